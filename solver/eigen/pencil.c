// SPDX-License-Identifier: GPL-3.0-or-later
// Factorisation of K - shift M: condensed elements are assembled into the fronts of the skeleton.
// Solves go down through the interiors and the skeleton and back up.
#include "eigen/pencil.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"

// How often, by how much and how much more each time an unsafe shift is raised. A pivot that is
// small as long as an eigenvalue of a leading part is near may be so within a thousandth of it: K
// holds entries far above shift M.
enum { SHIFT_TRIES = 5 };
static const double SHIFT_STEP = 2.3e-6, SHIFT_GROWTH = 8.0;

// Local row of a skeleton function of the discretisation: which block, and where in it.
static void place_batch(cavum_index (*row)[CAVUM_LANES], const cavum_pencil *p,
                        const cavum_pencil_level *level, const cavum_batch *batch) {
  const cavum_skeleton *s = p->skeleton;
  int corners = batch->num_corners, inner = p->discretisation->reference->degree - 1;
  cavum_index spare = level->factor.num_rows;
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_index *blocks =
        s->element_blocks + (size_t)batch->element[l] * (size_t)CAVUM_BLOCKS_MOST;
    int at = 0;
    for (int k = 0; k < 2 * corners; k++) {
      cavum_index first = level->factor.row_of_block[blocks[k]];
      for (int m = 0; m < (k < corners ? 1 : inner); m++, at++) {
        bool there = first >= 0 && m < level->block_size[blocks[k]];
        row[at][l] = there && l < batch->count ? first + m : spare;
      }
    }
  }
}

// Sizes of all blocks: unknowns, then functions.
static cavum_status make_block_sizes(int **size, const cavum_skeleton *s, int degree,
                                     cavum_error *error) {
  int *made = cavum_alloc(2 * (int64_t)s->num_blocks, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    made[s->num_blocks + b] = cavum_skeleton_block_size(s, b, degree);
    made[b] = s->exists[b] ? made[s->num_blocks + b] : 0;
  }
  *size = made;
  return CAVUM_OK;
}

static cavum_status create_level(cavum_pencil_level *level, const cavum_pencil *p, int degree,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_discretisation *d = p->discretisation;
  const cavum_skeleton *s = p->skeleton;
  int64_t count = 0;
  level->degree = degree;
  CAVUM_TRY(make_block_sizes(&level->block_size, s, degree, error));
  CAVUM_TRY(
      cavum_block_factor_create(&level->factor, s->plan, level->block_size, s->num_blocks, error));
  for (cavum_index b = 0; b < d->num_batches; b++) {
    count += cavum_shape_count_skeleton(d->batches[b].num_corners, d->reference->degree);
  }
  level->num_rows = level->factor.num_rows;
  level->row = cavum_alloc(count, sizeof *level->row);
  if (!level->row) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index b = 0; b < d->num_batches; b++) {
    place_batch(level->row + d->batches[b].first_sign, p, level, &d->batches[b]);
  }
done:
  return status;
}

cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *d,
                                 const cavum_skeleton *skeleton, int num_levels,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t own = 0;
  cavum_pencil p = {.discretisation = d, .skeleton = skeleton, .num_levels = num_levels};
  if (!CAVUM_HOLDS(d->mesh == skeleton->mesh)) {
    return cavum_fail_internal(error, "a skeleton of another mesh");
  }
  for (int l = 0; l < num_levels; l++) {
    CAVUM_TRY(create_level(&p.levels[l], &p, d->reference->degree - l, error));
  }
  for (cavum_index b = 0; b < d->num_batches; b++) {
    int corners = d->batches[b].num_corners, degree = d->reference->degree;
    own += cavum_shape_count(corners, degree) - cavum_shape_count_skeleton(corners, degree);
  }
  p.rows = cavum_alloc(CAVUM_RHS_MOST * ((int64_t)p.levels[0].factor.num_rows + 1), sizeof *p.rows);
  p.own = cavum_alloc_aligned(CAVUM_RHS_MOST * own, sizeof *p.own);
  if (!p.rows || !p.own) CAVUM_TRY(cavum_fail_memory(error));
  *pencil = p;
done:
  if (status != CAVUM_OK) cavum_pencil_clear(&p);
  return status;
}

void cavum_pencil_create_sharing(cavum_pencil *pencil, cavum_pencil *factor_owner,
                                 const cavum_skeleton *skeleton) {
  *pencil = (cavum_pencil){.discretisation = factor_owner->discretisation,
                           .skeleton = skeleton,
                           .factor_owner = factor_owner,
                           .num_levels = factor_owner->num_levels};
  CAVUM_ASSERT(!factor_owner->factor_owner && skeleton->plan == factor_owner->skeleton->plan);
  for (int l = 0; l < factor_owner->num_levels; l++) {
    const cavum_pencil_level *level = &factor_owner->levels[l];
    pencil->levels[l] = (cavum_pencil_level){.degree = level->degree};
    for (cavum_index b = 0; b < skeleton->num_blocks; b++) {
      if (skeleton->exists[b]) pencil->levels[l].num_rows += level->block_size[b];
    }
  }
}

void cavum_pencil_clear(cavum_pencil *pencil) {
  if (!pencil) return;
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) {
    free(pencil->levels[l].block_size);
    free(pencil->levels[l].row);
    cavum_block_factor_clear(&pencil->levels[l].factor);
  }
  free(pencil->rows);
  free(pencil->own);
  memset(pencil, 0, sizeof *pencil);
}

static const double *take_element(void *context, cavum_index e, int *leading_dimension) {
  const cavum_condensed_level *level = context;
  *leading_dimension = level->stride;
  return level->schur + (size_t)e * (size_t)level->stride * (size_t)level->stride;
}

static cavum_status factorise_level(cavum_front_pivots *pivots, cavum_block_factor *factor,
                                    const int *block_size, const cavum_skeleton *skeleton,
                                    const cavum_condensed *condensed, int level,
                                    cavum_error *error) {
  cavum_condensed_level elements = condensed->levels[level];
  const int *local_size = block_size + skeleton->num_blocks;
  return cavum_block_factor_factorise(pivots, factor, skeleton->element_blocks, block_size,
                                      local_size, take_element, &elements, error);
}

// Rows at the end of the factor_owner's factors that a sharing pencil leaves out.
static cavum_index num_closed(const cavum_pencil *p, int level) {
  return p->factor_owner ? p->factor_owner->levels[level].num_rows - p->levels[level].num_rows : 0;
}

// A leading part of the factors has the inertia of the leading part of the matrix.
static void take_from_host(cavum_pencil *p) {
  p->shift_per_m2 = p->factor_owner->shift_per_m2;
  p->asked_per_m2 = p->factor_owner->asked_per_m2;
  p->condensed = p->factor_owner->condensed;
  p->generation = p->factor_owner->generation;
  for (int l = 0; l < p->num_levels; l++) {
    const cavum_pencil_level *level = &p->factor_owner->levels[l];
    p->levels[l].num_negative =
        level->num_negative - cavum_block_factor_count_negative(&level->factor, num_closed(p, l));
  }
}

cavum_status cavum_pencil_factorise(cavum_pencil *pencil, cavum_condensed *condensed,
                                    double shift_per_m2, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double shift = shift_per_m2;
  if (!CAVUM_HOLDS(condensed->discretisation == pencil->discretisation &&
                   condensed->num_levels >= pencil->num_levels)) {
    return cavum_fail_internal(error, "matrices of another discretisation");
  }
  if (pencil->factor_owner) {
    CAVUM_TRY(cavum_pencil_factorise(pencil->factor_owner, condensed, shift_per_m2, error));
    take_from_host(pencil);
    return CAVUM_OK;
  }
  if (pencil->condensed == condensed && condensed->eliminated &&
      pencil->generation == condensed->generation && pencil->asked_per_m2 == shift_per_m2) {
    return CAVUM_OK;
  }
  pencil->condensed = NULL;
  for (int i = 0; i < SHIFT_TRIES; i++) {
    bool all_safe = true;
    CAVUM_TRY(cavum_condensed_eliminate(condensed, shift, error));
    for (int l = 0; l < pencil->num_levels; l++) {
      cavum_pencil_level *level = &pencil->levels[l];
      cavum_front_pivots pivots;
      CAVUM_TRY(factorise_level(&pivots, &level->factor, level->block_size, pencil->skeleton,
                                condensed, l, error));
      level->num_negative = condensed->levels[l].num_negative + pivots.num_negative;
      all_safe = all_safe && !condensed->unsafe && !pivots.unsafe;
    }
    if (all_safe) {
      pencil->condensed = condensed;
      pencil->generation = condensed->generation;
      pencil->shift_per_m2 = shift;
      pencil->asked_per_m2 = shift_per_m2;
      return CAVUM_OK;
    }
    shift = shift_per_m2 + SHIFT_STEP * pow(SHIFT_GROWTH, i) * fabs(shift_per_m2);
    if (shift_per_m2 == 0.0) break;
  }
  status = cavum_fail(error, CAVUM_ERR_LIBRARY, "no safe factorisation near the shift %.17g 1/m^2",
                      shift_per_m2);
done:
  return status;
}

// The rows of a right-hand sides, with the spare one at their end.
static double *rows_of(const cavum_pencil *p, int rhs) {
  return p->rows + (size_t)rhs * ((size_t)p->levels[0].factor.num_rows + 1);
}

// Copies the skeleton part of a full vector into rows, or back.
CAVUM_FAST static void take_rows(double *rows, const cavum_pencil *p,
                                 const cavum_pencil_level *level, const double *full) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (!s->exists[b]) continue;
    const double *from = full + cavum_skeleton_first_unknown(s, b, degree);
    double *to = rows + level->factor.row_of_block[b];
    for (int m = 0; m < level->block_size[b]; m++) to[m] = from[m];
  }
}

CAVUM_FAST static void put_rows(double *full, const cavum_pencil *p,
                                const cavum_pencil_level *level, const double *rows) {
  const cavum_skeleton *s = p->skeleton;
  int degree = p->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    double *to = full + cavum_skeleton_first_unknown(s, b, degree);
    int all = cavum_skeleton_block_size(s, b, degree),
        used = s->exists[b] ? level->block_size[b] : 0;
    const double *from = rows + (s->exists[b] ? level->factor.row_of_block[b] : 0);
    for (int m = 0; m < all; m++) to[m] = m < used ? from[m] : 0.0;
  }
  cavum_index skeleton = p->discretisation->space.num_skeleton;
  for (int64_t i = skeleton; i < cavum_space_lanes(skeleton); i++) full[i] = 0.0;
}

// Sizes of a batch at a level.
typedef struct batch_size {
  int skeleton, interior, used;  // functions of the discretisation; interior ones of the level
} batch_size;

static batch_size size_of(const cavum_pencil *p, int level, const cavum_batch *batch) {
  int degree = p->discretisation->reference->degree, corners = batch->num_corners;
  int low = p->levels[level].degree, skeleton = cavum_shape_count_skeleton(corners, degree);
  return (batch_size){skeleton, cavum_shape_count(corners, degree) - skeleton,
                      cavum_shape_count(corners, low) - cavum_shape_count_skeleton(corners, low)};
}

CAVUM_FAST static void go_down(cavum_pencil *p, int level, const cavum_pencil_rhs *rhs, int count) {
  const cavum_discretisation *d = p->discretisation;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST], *own = p->own;
  for (cavum_index at = 0; at < d->num_batches; at++) {
    const cavum_batch *batch = &d->batches[at];
    batch_size size = size_of(p, level, batch);
    for (int r = 0; r < count; r++) {
      const double *from = rhs[r].b + batch->first_interior;
      for (int i = 0; i < size.used; i++, from += CAVUM_LANES) {
        own[i * count + r] = *(const cavum_lanes_anywhere *)from;
      }
    }
    cavum_condensed_forward(own, border, p->condensed, level, at, count);
    const cavum_index(*row)[CAVUM_LANES] = p->levels[level].row + batch->first_sign;
    for (int r = 0; r < count; r++) {
      double *rows = rows_of(p, r);
      for (int a = 0; a < size.skeleton; a++) {
        cavum_lanes value = border[a * count + r] * d->sign[batch->first_sign + a];
        for (int l = 0; l < CAVUM_LANES; l++) rows[row[a][l]] += value[l];
      }
    }
    own += size.interior * count;
  }
}

CAVUM_FAST static void go_up(cavum_pencil *p, int level, const cavum_pencil_rhs *rhs, int count) {
  const cavum_discretisation *d = p->discretisation;
  cavum_lanes border[CAVUM_RHS_MOST * 4 * CAVUM_DEGREE_MOST], *own = p->own;
  for (int r = 0; r < count; r++) rows_of(p, r)[p->levels[level].factor.num_rows] = 0.0;
  for (cavum_index at = 0; at < d->num_batches; at++) {
    const cavum_batch *batch = &d->batches[at];
    batch_size size = size_of(p, level, batch);
    const cavum_index(*row)[CAVUM_LANES] = p->levels[level].row + batch->first_sign;
    for (int r = 0; r < count; r++) {
      const double *rows = rows_of(p, r);
      for (int a = 0; a < size.skeleton; a++) {
        cavum_lanes *value = &border[a * count + r];
        for (int l = 0; l < CAVUM_LANES; l++) (*value)[l] = rows[row[a][l]];
        *value *= d->sign[batch->first_sign + a];
      }
    }
    cavum_condensed_backward(own, border, p->condensed, level, at, count);
    for (int r = 0; r < count; r++) {
      double *to = rhs[r].y + batch->first_interior;
      for (int i = 0; i < size.interior; i++, to += CAVUM_LANES) {
        cavum_lanes value = {0};
        if (i < size.used) value = own[i * count + r];
        for (int l = batch->count; l < CAVUM_LANES; l++) value[l] = 0.0;
        *(cavum_lanes_anywhere *)to = value;
      }
    }
    own += size.interior * count;
  }
}

void cavum_pencil_solve_many(cavum_pencil *pencil, int level, const cavum_pencil_rhs *rhs,
                             int count) {
  cavum_pencil *p =
      pencil->factor_owner ? pencil->factor_owner : pencil;  // whose factors and work space serve
  cavum_pencil_level *own = &p->levels[level];
  for (int done = 0; done < count; done += CAVUM_RHS_MOST) {
    const cavum_pencil_rhs *now = rhs + done;
    int together = count - done < CAVUM_RHS_MOST ? count - done : CAVUM_RHS_MOST;
    cavum_index closed[CAVUM_RHS_MOST];
    for (int r = 0; r < together; r++) {
      CAVUM_ASSERT(now[r].pencil == p || now[r].pencil->factor_owner == p);
      closed[r] = num_closed(now[r].pencil, level);
      take_rows(rows_of(p, r), p, own, now[r].b);
    }
    go_down(p, level, now, together);
    cavum_block_factor_solve(p->rows, &own->factor, closed, together,
                             p->levels[0].factor.num_rows + 1);
    go_up(p, level, now, together);
    for (int r = 0; r < together; r++) put_rows(now[r].y, p, own, rows_of(p, r));
  }
}

void cavum_pencil_solve(double *y, cavum_pencil *pencil, int level, const double *b) {
  const cavum_pencil_rhs rhs = {pencil, y, b};
  cavum_pencil_solve_many(pencil, level, &rhs, 1);
}

void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil) {
  const cavum_skeleton *s = pencil->skeleton;
  int degree = pencil->discretisation->reference->degree;
  for (cavum_index b = 0; b < s->num_blocks; b++) {
    if (s->exists[b]) continue;
    memset(x + cavum_skeleton_first_unknown(s, b, degree), 0,
           (size_t)cavum_skeleton_block_size(s, b, degree) * sizeof *x);
  }
}

void cavum_pencil_apply_mass(double *y, const cavum_pencil *pencil, const double *x) {
  cavum_discretisation_apply_mass(y, pencil->discretisation, x);
  cavum_pencil_clear_essential(y, pencil);
}
