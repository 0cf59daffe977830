// SPDX-License-Identifier: GPL-3.0-or-later
// Factorisation of K - shift M: every element's interior is eliminated in a dense front of its own
// just before the element is assembled into the fronts of the skeleton. Solves go the same way down
// and back up.
#include "pencil.h"

#include <string.h>

#include "base.h"
#include "element_matrix.h"

// How often, and by how much, an unsafe shift is raised.
enum { SHIFT_TRIES = 5 };
static const double SHIFT_STEP = 2.3e-6;

static int skeleton_size(const cavum_pencil *p, cavum_index e) {
  const cavum_discretisation *d = p->discretisation;
  return cavum_shape_count_skeleton(d->mesh->elements[e].num_corners, d->reference->degree);
}

static int all_size(const cavum_pencil *p, cavum_index e) {
  const cavum_discretisation *d = p->discretisation;
  return cavum_shape_count(d->mesh->elements[e].num_corners, d->reference->degree);
}

static int skeleton_stride(const cavum_pencil *p) {
  return 4 * p->discretisation->reference->degree;
}

static cavum_status allocate(cavum_pencil *p, cavum_error *error) {
  const cavum_discretisation *d = p->discretisation;
  cavum_index elements = d->mesh->num_elements;
  int most = cavum_shape_count(4, d->reference->degree);
  p->first_panel = cavum_alloc((int64_t)elements + 1, sizeof *p->first_panel);
  if (!p->first_panel) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < elements; e++) {
    int64_t all = all_size(p, e);
    p->first_panel[e + 1] = p->first_panel[e] + all * (all - skeleton_size(p, e));
  }
  int64_t skeleton = (int64_t)elements * skeleton_stride(p);
  p->panels = cavum_alloc(p->first_panel[elements], sizeof(double));
  p->sign = cavum_alloc(skeleton, sizeof *p->sign);
  p->row = cavum_alloc(skeleton, sizeof *p->row);
  p->rows = cavum_alloc(p->factor.num_rows, sizeof *p->rows);
  p->matrix = cavum_alloc((int64_t)most * most, sizeof *p->matrix);
  p->scratch = cavum_alloc(cavum_element_matrix_scratch(d->reference), sizeof *p->scratch);
  bool have = p->panels && p->sign && p->row && p->rows && p->matrix && p->scratch;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

// Where the skeleton functions of every element are in the condensed matrix, and their signs.
static void place_elements(cavum_pencil *p) {
  const cavum_skeleton *s = p->skeleton;
  int stride = skeleton_stride(p);
  for (cavum_index e = 0; e < s->mesh->num_elements; e++) {
    const cavum_index *blocks = s->element_blocks + (size_t)e * CAVUM_BLOCKS_MOST;
    cavum_index *row = p->row + (size_t)e * (size_t)stride;
    int at = 0;
    for (int k = 0; k < CAVUM_BLOCKS_MOST && blocks[k] >= 0; k++) {
      cavum_index first = p->factor.row_of_block[blocks[k]];
      for (int m = 0; m < p->block_size[blocks[k]]; m++) row[at++] = first < 0 ? -1 : first + m;
    }
    cavum_discretisation_signs(p->sign + (size_t)e * (size_t)stride, p->discretisation, e);
  }
}

cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *discretisation,
                                 const cavum_skeleton *skeleton, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_pencil p = {.discretisation = discretisation, .skeleton = skeleton};
  CAVUM_ASSERT(discretisation->mesh == skeleton->mesh);
  p.block_size = cavum_alloc(skeleton->num_blocks, sizeof *p.block_size);
  if (!p.block_size) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index b = 0; b < skeleton->num_blocks; b++) {
    p.block_size[b] = cavum_skeleton_block_size(skeleton, b, discretisation->reference->degree);
  }
  CAVUM_TRY(cavum_block_factor_create(&p.factor, &skeleton->plan, p.block_size,
                                      skeleton->num_blocks, error));
  CAVUM_TRY(allocate(&p, error));
  place_elements(&p);
  *pencil = p;
done:
  if (status != CAVUM_OK) cavum_pencil_clear(&p);
  return status;
}

void cavum_pencil_clear(cavum_pencil *pencil) {
  if (!pencil) return;
  cavum_block_factor_clear(&pencil->factor);
  free(pencil->block_size);
  free(pencil->first_panel);
  free(pencil->panels);
  free(pencil->sign);
  free(pencil->row);
  free(pencil->rows);
  free(pencil->matrix);
  free(pencil->scratch);
  memset(pencil, 0, sizeof *pencil);
}

typedef struct condensation {
  cavum_pencil *pencil;
  cavum_front_pivots pivots;
} condensation;

// Element matrix, interior eliminated, signs of the global orientation on what is left.
static const double *condense(void *context, cavum_index e, int *leading_dimension) {
  condensation *c = context;
  cavum_pencil *p = c->pencil;
  int all = all_size(p, e), ns = skeleton_size(p, e), ni = all - ns;
  cavum_element_matrix(p->matrix, p->discretisation, e, p->shift_per_m2, p->scratch);
  cavum_front_pivots here = cavum_front_factorise(p->matrix, all, ni);
  c->pivots.num_negative += here.num_negative;
  c->pivots.unsafe = c->pivots.unsafe || here.unsafe;
  memcpy(p->panels + p->first_panel[e], p->matrix, (size_t)all * (size_t)ni * sizeof(double));
  double *S = p->matrix + (size_t)ni * (size_t)all + (size_t)ni;
  const double *sign = p->sign + (size_t)e * (size_t)skeleton_stride(p);
  for (int b = 0; b < ns; b++) {
    double *column = S + (size_t)b * (size_t)all;
    for (int a = b; a < ns; a++) column[a] *= sign[a] * sign[b];
  }
  *leading_dimension = all;
  return S;
}

static cavum_status factorise_once(cavum_pencil *p, bool *unsafe, cavum_error *error) {
  condensation c = {.pencil = p};
  cavum_front_pivots skeleton;
  cavum_status status = cavum_block_factor_factorise(
      &skeleton, &p->factor, p->skeleton->element_blocks, p->block_size, condense, &c, error);
  if (status != CAVUM_OK) return status;
  p->num_negative = (int64_t)c.pivots.num_negative + skeleton.num_negative;
  p->definite = p->num_negative == 0;
  *unsafe = c.pivots.unsafe || skeleton.unsafe;
  return CAVUM_OK;
}

cavum_status cavum_pencil_factorise(cavum_pencil *pencil, double shift_per_m2, cavum_error *error) {
  bool unsafe = true;
  pencil->shift_per_m2 = shift_per_m2;
  for (int i = 0; i < SHIFT_TRIES; i++) {
    cavum_status status = factorise_once(pencil, &unsafe, error);
    if (status != CAVUM_OK) return status;
    if (!unsafe) return CAVUM_OK;
    pencil->shift_per_m2 += SHIFT_STEP * (i + 1) * fabs(shift_per_m2);
    if (shift_per_m2 == 0.0) break;
  }
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "no safe factorisation near the shift %.17g 1/m^2",
                    shift_per_m2);
}

// Copies the skeleton part of a full vector into rows, or back.
static void take_rows(cavum_pencil *p, const double *full) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (!s->exists[b]) continue;
    const double *from = full + cavum_skeleton_first_unknown(s, b, degree);
    double *to = p->rows + p->factor.row_of_block[b];
    for (int m = 0; m < p->block_size[b]; m++) to[m] = from[m];
  }
}

static void put_rows(double *full, const cavum_pencil *p) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    double *to = full + cavum_skeleton_first_unknown(s, b, degree);
    const double *from = p->rows + (s->exists[b] ? p->factor.row_of_block[b] : 0);
    for (int m = 0; m < p->block_size[b]; m++) to[m] = s->exists[b] ? from[m] : 0.0;
  }
}

cavum_status cavum_pencil_solve(double *y, cavum_pencil *p, const double *b, cavum_error *error) {
  (void)error;
  const cavum_space *space = &p->discretisation->space;
  int stride = skeleton_stride(p);
  double border[4 * CAVUM_DEGREE_MOST];
  if (y != b) memcpy(y, b, (size_t)space->num_unknowns * sizeof *y);
  take_rows(p, y);
  for (cavum_index e = 0; e < space->mesh->num_elements; e++) {
    int all = all_size(p, e), ns = skeleton_size(p, e);
    const cavum_index *row = p->row + (size_t)e * (size_t)stride;
    const double *sign = p->sign + (size_t)e * (size_t)stride;
    memset(border, 0, (size_t)ns * sizeof *border);
    cavum_front_forward(y + space->first_interior[e], border, p->panels + p->first_panel[e], all,
                        all - ns);
    for (int a = 0; a < ns; a++) {
      if (row[a] >= 0) p->rows[row[a]] += sign[a] * border[a];
    }
  }
  cavum_block_factor_solve(p->rows, &p->factor);
  for (cavum_index e = 0; e < space->mesh->num_elements; e++) {
    int all = all_size(p, e), ns = skeleton_size(p, e);
    const cavum_index *row = p->row + (size_t)e * (size_t)stride;
    const double *sign = p->sign + (size_t)e * (size_t)stride;
    for (int a = 0; a < ns; a++) border[a] = row[a] >= 0 ? sign[a] * p->rows[row[a]] : 0.0;
    cavum_front_backward(y + space->first_interior[e], border, p->panels + p->first_panel[e], all,
                         all - ns);
  }
  put_rows(y, p);
  return CAVUM_OK;
}

void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil) {
  const cavum_skeleton *s = pencil->skeleton;
  int degree = pencil->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (s->exists[b]) continue;
    memset(x + cavum_skeleton_first_unknown(s, b, degree), 0,
           (size_t)pencil->block_size[b] * sizeof *x);
  }
}
