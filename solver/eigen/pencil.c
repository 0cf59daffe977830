// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of a pencil: where the functions of all elements go in the rows of the skeleton.
#include "eigen/pencil.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "fem/apply.h"

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

cavum_status cavum_pencil_lay_out(cavum_pencil *p, int of_level, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_discretisation *d = p->discretisation;
  const cavum_skeleton *s = p->skeleton;
  cavum_pencil_level *level = &p->levels[of_level];
  int64_t count = 0;
  if (level->row) return CAVUM_OK;
  CAVUM_TRY(cavum_stop_check(error));
  cavum_block_factor_clear(&level->factor);  // of a layout that failed
  if (p->is_lean) {
    CAVUM_TRY(cavum_block_factor_lay_out(&level->factor, s->plan, level->block_size, s->num_blocks,
                                         error));
  } else {
    CAVUM_TRY(cavum_block_factor_create(&level->factor, s->plan, level->block_size, s->num_blocks,
                                        error));
  }
  for (cavum_index b = 0; b < d->num_batches; b++) {
    count += cavum_shape_count_skeleton(d->batches[b].num_corners, d->reference->degree);
  }
  level->row = cavum_alloc(count, sizeof *level->row);
  if (!level->row) CAVUM_TRY(cavum_fail_memory(error));
  for (cavum_index b = 0; b < d->num_batches; b++) {
    if (cavum_stop_asked_at(b)) break;
    place_batch(level->row + d->batches[b].first_sign, p, level, &d->batches[b]);
  }
  status = cavum_stop_check(error);
done:
  if (status != CAVUM_OK) {
    free(level->row);
    level->row = NULL;
  }
  return status;
}

// Of a lean pencil only the highest level is laid out at once: the others may not be needed, and
// are when the highest has given back what its modes took.
static cavum_status create_level(cavum_pencil *p, int of_level, cavum_error *error) {
  const cavum_skeleton *s = p->skeleton;
  cavum_pencil_level *level = &p->levels[of_level];
  level->degree = p->discretisation->reference->degree - of_level;
  cavum_status status = make_block_sizes(&level->block_size, s, level->degree, error);
  for (cavum_index b = 0; status == CAVUM_OK && b < s->num_blocks; b++) {
    level->num_rows += level->block_size[b];
  }
  if (status != CAVUM_OK || (p->is_lean && of_level > 0)) return status;
  return cavum_pencil_lay_out(p, of_level, error);
}

cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *d,
                                 const cavum_skeleton *skeleton, int num_levels,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t own = 0;
  cavum_pencil p = {
      .discretisation = d, .skeleton = skeleton, .num_levels = num_levels, .is_lean = d->is_large};
  if (!CAVUM_HOLDS(d->mesh == skeleton->mesh)) {
    return cavum_fail_internal(error, "a skeleton of another mesh");
  }
  for (int l = 0; l < num_levels; l++) {
    CAVUM_TRY(create_level(&p, l, error));
  }
  for (cavum_index b = 0; b < d->num_batches; b++) {
    int corners = d->batches[b].num_corners, degree = d->reference->degree;
    own += cavum_shape_count(corners, degree) - cavum_shape_count_skeleton(corners, degree);
  }
  p.rows = cavum_alloc(CAVUM_RHS_MOST * (int64_t)p.levels[0].factor.num_places, sizeof *p.rows);
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
                           .num_levels = factor_owner->num_levels,
                           .is_lean = factor_owner->is_lean};
  CAVUM_ASSERT(!factor_owner->factor_owner && skeleton->plan == factor_owner->skeleton->plan);
  for (int l = 0; l < factor_owner->num_levels; l++) {
    const cavum_pencil_level *level = &factor_owner->levels[l];
    pencil->levels[l] = (cavum_pencil_level){.degree = level->degree};
    for (cavum_index b = 0; b < skeleton->num_blocks; b++) {
      if (skeleton->exists[b]) pencil->levels[l].num_rows += level->block_size[b];
    }
  }
}

void cavum_pencil_drop_factors(cavum_pencil *pencil) {
  const cavum_pencil kept = {.discretisation = pencil->discretisation,
                             .skeleton = pencil->skeleton};
  cavum_pencil_clear(pencil);
  *pencil = kept;
}

void cavum_pencil_clear(cavum_pencil *pencil) {
  if (!pencil) return;
  for (int l = CAVUM_LEVELS_MOST - 1; l >= 0; l--) {
    free(pencil->levels[l].block_size);
    free(pencil->levels[l].row);
    cavum_block_factor_clear(&pencil->levels[l].factor);
  }
  free(pencil->rows);
  free(pencil->own);
  memset(pencil, 0, sizeof *pencil);
}

cavum_index cavum_pencil_num_closed(const cavum_pencil *p, int level) {
  return p->factor_owner ? p->factor_owner->levels[level].num_rows - p->levels[level].num_rows : 0;
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

// A x from K x, in place.
static void shift_product(double *y, const cavum_pencil *pencil, const double *mx) {
  cavum_index size = pencil->discretisation->space.num_unknowns;
  for (cavum_index i = 0; i < size; i++) y[i] -= pencil->shift_per_m2 * mx[i];
  cavum_pencil_clear_essential(y, pencil);
}

void cavum_pencil_apply(double *y, const cavum_pencil *pencil, const double *x, const double *mx) {
  cavum_discretisation_apply_stiffness(y, pencil->discretisation, x);
  shift_product(y, pencil, mx);
}

void cavum_pencil_multiply(double *mx, double *ax, const cavum_pencil *pencil, const double *x,
                           int count) {
  enum { TOGETHER = 8 };
  size_t size = (size_t)pencil->discretisation->space.num_unknowns;
  for (int done = 0; done < count && !(done > 0 && cavum_stop_asked()); done += TOGETHER) {
    cavum_function_products of[TOGETHER];
    int now = count - done < TOGETHER ? count - done : TOGETHER;
    for (int i = 0; i < now; i++) {
      size_t at = (size_t)(done + i) * size;
      of[i] = (cavum_function_products){x + at, mx + at, ax ? ax + at : NULL};
    }
    cavum_discretisation_apply(pencil->discretisation, of, now);
    for (int i = 0; i < now; i++) {
      if (ax) shift_product(of[i].stiffness, pencil, of[i].mass);
      cavum_pencil_clear_essential(of[i].mass, pencil);
    }
  }
}
