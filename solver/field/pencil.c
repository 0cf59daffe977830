// SPDX-License-Identifier: GPL-3.0-or-later
// Factorisation of K - shift M: every element's interior is eliminated by a dense factorisation, the
// skeleton by a sparse one. Solves go the same way down and back up.
#include "pencil.h"

#include <string.h>

#include "base.h"
#include "element_matrix.h"

static int skeleton_size(const cavum_pencil *p, cavum_index e) {
  const cavum_discretisation *d = p->discretisation;
  return cavum_shape_count_skeleton(d->mesh->elements[e].num_corners, d->reference->degree);
}

static int interior_size(const cavum_pencil *p, cavum_index e) {
  const cavum_discretisation *d = p->discretisation;
  return cavum_shape_count(d->mesh->elements[e].num_corners, d->reference->degree) -
         skeleton_size(p, e);
}

static cavum_status allocate(cavum_pencil *p, cavum_error *error) {
  const cavum_discretisation *d = p->discretisation;
  cavum_index elements = d->mesh->num_elements;
  int most = cavum_shape_count(4, d->reference->degree);
  p->first_entry = cavum_alloc((int64_t)elements + 1, sizeof *p->first_entry);
  if (!p->first_entry) return cavum_fail_memory(error);
  for (cavum_index e = 0; e < elements; e++) {
    int64_t ni = interior_size(p, e), ns = skeleton_size(p, e);
    p->first_entry[e + 1] = p->first_entry[e] + ni * (ni + ns);
  }
  p->values = cavum_alloc(p->skeleton.pattern.column_start[p->skeleton.num_rows], sizeof(double));
  p->interior = cavum_alloc(p->first_entry[elements], sizeof(double));
  p->pivots = cavum_alloc(d->space.num_unknowns, sizeof *p->pivots);
  p->kind = cavum_alloc(elements, sizeof *p->kind);
  p->rows = cavum_alloc(p->skeleton.num_rows, sizeof *p->rows);
  p->matrix = cavum_alloc((int64_t)most * most, sizeof *p->matrix);
  p->scratch = cavum_alloc(cavum_element_matrix_scratch(d->reference), sizeof *p->scratch);
  p->work = cavum_alloc(64 * (int64_t)most, sizeof *p->work);
  bool have = p->values && p->interior && p->pivots && p->kind && p->rows && p->matrix &&
              p->scratch && p->work;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *discretisation,
                                 const cavum_closure *closure, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_pencil p = {.discretisation = discretisation, .closure = *closure};
  CAVUM_TRY(cavum_skeleton_create(&p.skeleton, &discretisation->space, closure, error));
  CAVUM_TRY(allocate(&p, error));
  *pencil = p;
  // Only now: the factor keeps pointers into the pencil, which has its final place from here on.
  CAVUM_TRY(cavum_sparse_factor_create(&pencil->factor, &pencil->skeleton.pattern,
                                       pencil->skeleton.order, error));
  return CAVUM_OK;
done:
  cavum_pencil_clear(&p);
  memset(pencil, 0, sizeof *pencil);
  return status;
}

void cavum_pencil_clear(cavum_pencil *pencil) {
  if (!pencil) return;
  cavum_sparse_factor_destroy(&pencil->factor);
  cavum_skeleton_clear(&pencil->skeleton);
  free(pencil->values);
  free(pencil->first_entry);
  free(pencil->interior);
  free(pencil->pivots);
  free(pencil->kind);
  free(pencil->rows);
  free(pencil->matrix);
  free(pencil->scratch);
  free(pencil->work);
  memset(pencil, 0, sizeof *pencil);
}

// Condenses every element into the skeleton matrix; counts negative interior eigenvalues.
static cavum_status condense(cavum_pencil *p, double shift, cavum_error *error) {
  const cavum_discretisation *d = p->discretisation;
  int64_t entries = p->skeleton.pattern.column_start[p->skeleton.num_rows];
  memset(p->values, 0, (size_t)entries * sizeof *p->values);
  p->num_negative = 0;
  for (cavum_index e = 0; e < d->mesh->num_elements; e++) {
    int ns = skeleton_size(p, e), ni = interior_size(p, e), negative;
    double *factor = p->interior + p->first_entry[e];
    cavum_element_matrix(p->matrix, d, e, shift, p->scratch);
    if (!cavum_dense_condense(factor, p->pivots + d->space.first_interior[e],
                              factor + (size_t)ni * (size_t)ni, &p->kind[e], &negative, p->matrix,
                              ns, ni, p->work)) {
      return cavum_fail(error, CAVUM_ERR_LIBRARY, "element %d is singular at the shift %.17g 1/m^2",
                        (int)e, shift);
    }
    p->num_negative += negative;
    cavum_skeleton_add(p->values, &p->skeleton, e, p->matrix, ns + ni);
  }
  return CAVUM_OK;
}

cavum_status cavum_pencil_factorise(cavum_pencil *pencil, double shift_per_m2,
                                    cavum_factor_mode mode, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_definiteness definiteness = CAVUM_INDEFINITE;
  pencil->shift_per_m2 = shift_per_m2;
  pencil->definite = false;
  CAVUM_TRY(condense(pencil, shift_per_m2, error));
  if (pencil->num_negative == 0 && (mode == CAVUM_FACTOR_DEFINITE_ONLY || shift_per_m2 <= 0.0)) {
    CAVUM_TRY(cavum_sparse_factor_cholesky(&definiteness, pencil->factor, pencil->values, error));
  }
  pencil->definite = definiteness == CAVUM_DEFINITE;
  if (!pencil->definite && mode == CAVUM_FACTOR_ANY) {
    int64_t negative;
    CAVUM_TRY(cavum_sparse_factor_ldl(&negative, pencil->factor, pencil->values, error));
    pencil->num_negative += negative;
  }
done:
  return status;
}

// Moves the interior right sides to the skeleton; y holds the reduced interior values afterwards.
static void reduce(double *y, cavum_pencil *p) {
  const cavum_space *space = &p->discretisation->space;
  double bs[4 * CAVUM_DEGREE_MOST], sign[4 * CAVUM_DEGREE_MOST];
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  for (cavum_index e = 0; e < space->mesh->num_elements; e++) {
    int ns = skeleton_size(p, e), ni = interior_size(p, e);
    const double *factor = p->interior + p->first_entry[e];
    memset(bs, 0, sizeof bs);
    cavum_dense_reduce(bs, y + space->first_interior[e], factor,
                       p->pivots + space->first_interior[e], factor + (size_t)ni * (size_t)ni,
                       p->kind[e], ns, ni);
    cavum_space_skeleton(index, sign, space, e);
    // The element matrix carries the orientation signs, so bs is in the global orientation.
    for (int a = 0; a < ns; a++) y[index[a]] += bs[a];
  }
}

static void expand(double *y, const cavum_pencil *p) {
  const cavum_space *space = &p->discretisation->space;
  double xs[4 * CAVUM_DEGREE_MOST], sign[4 * CAVUM_DEGREE_MOST];
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  for (cavum_index e = 0; e < space->mesh->num_elements; e++) {
    int ns = skeleton_size(p, e), ni = interior_size(p, e);
    const double *factor = p->interior + p->first_entry[e];
    cavum_space_skeleton(index, sign, space, e);
    for (int a = 0; a < ns; a++) xs[a] = y[index[a]];
    cavum_dense_expand(y + space->first_interior[e], xs, factor, factor + (size_t)ni * (size_t)ni,
                       p->kind[e], ns, ni);
  }
}

cavum_status cavum_pencil_solve(double *y, cavum_pencil *p, const double *b, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  size_t size = (size_t)p->discretisation->space.num_unknowns;
  if (y != b) memcpy(y, b, size * sizeof *y);
  reduce(y, p);
  cavum_skeleton_take(p->rows, &p->skeleton, y);
  CAVUM_TRY(cavum_sparse_factor_solve(p->rows, p->factor, error));
  cavum_skeleton_put(y, &p->skeleton, p->rows);
  expand(y, p);
done:
  return status;
}

void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil) {
  const cavum_skeleton *s = &pencil->skeleton;
  const cavum_mesh *mesh = s->space->mesh;
  int inner = s->space->degree - 1;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (s->first[b] >= 0) continue;
    if (b < mesh->num_vertices) {
      x[b] = 0.0;
    } else {
      cavum_index from = mesh->num_vertices + (b - mesh->num_vertices) * inner;
      memset(x + from, 0, (size_t)inner * sizeof *x);
    }
  }
}
