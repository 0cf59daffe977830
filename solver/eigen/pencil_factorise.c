// SPDX-License-Identifier: GPL-3.0-or-later
// Factorisation of K - shift M: condensed elements are assembled into the fronts of the skeleton.
#include "eigen/pencil_factorise.h"

#include "base/base.h"
#include "base/threads.h"
#include "linalg/block_factorise.h"
#include "linalg/block_solve.h"

// How often, by how much and how much more each time an unsafe shift is raised. A pivot that is
// small as long as an eigenvalue of a leading part is near may be so within a thousandth of it: K
// holds entries far above shift M. In single precision a shift is raised once: elements of a
// millionth of the cell beside the axis have entries that it does not hold at any shift.
enum { SHIFT_TRIES = 5, SINGLE_TRIES = 2 };
static const double SHIFT_STEP = 2.3e-6, SHIFT_GROWTH = 8.0;

// Where the matrices of the elements come from.
typedef struct element_matrices {
  const cavum_condensed *condensed;
  int level;
  double *buffer;  // of one element for each thread, where they are not kept
} element_matrices;

static const double *take_element(void *context, cavum_index e, int worker,
                                  int *leading_dimension) {
  const element_matrices *from = context;
  const cavum_condensed_level *level = &from->condensed->levels[from->level];
  *leading_dimension = level->stride;
  size_t square = (size_t)level->stride * (size_t)level->stride;
  if (level->schur) return level->schur + (size_t)e * square;
  double *buffer = from->buffer + (size_t)worker * square;
  cavum_condensed_take(buffer, from->condensed, from->level, e);
  return buffer;
}

// `safe` becomes false where a pivot was unsafe.
static cavum_status factorise_level(cavum_pencil *pencil, bool *safe,
                                    const cavum_condensed *condensed, int l, cavum_error *error) {
  cavum_pencil_level *level = &pencil->levels[l];
  const cavum_skeleton *skeleton = pencil->skeleton;
  const int *local_size = level->block_size + skeleton->num_blocks;
  int64_t square = (int64_t)condensed->levels[l].stride * condensed->levels[l].stride;
  element_matrices from = {condensed, l, NULL};
  cavum_front_pivots pivots = {0};
  cavum_status laid_out = cavum_pencil_lay_out(pencil, l, error);
  if (laid_out != CAVUM_OK) return laid_out;
  if (pencil->is_lean) {
    cavum_status taken = cavum_block_factor_take_memory(&level->factor, &pencil->levels[0].factor,
                                                        pencil->is_single, error);
    if (taken != CAVUM_OK) return taken;
  }
  if (!condensed->levels[l].schur) {
    from.buffer = cavum_alloc(cavum_threads_count() * square, sizeof *from.buffer);
    if (!from.buffer) return cavum_fail_memory(error);
  }
  cavum_status status =
      cavum_block_factor_factorise(&pivots, &level->factor, skeleton->element_blocks,
                                   level->block_size, local_size, take_element, &from, error);
  free(from.buffer);
  if (status != CAVUM_OK) return status;
  level->num_negative = condensed->levels[l].num_negative + pivots.num_negative;
  *safe = *safe && !pivots.unsafe;
  pencil->resident = l;
  return CAVUM_OK;
}

// A leading part of the factors has the inertia of the leading part of the matrix.
static void take_from_owner(cavum_pencil *p) {
  p->shift_per_m2 = p->factor_owner->shift_per_m2;
  p->asked_per_m2 = p->factor_owner->asked_per_m2;
  p->condensed = p->factor_owner->condensed;
  p->generation = p->factor_owner->generation;
  p->is_single = p->factor_owner->is_single;
  for (int l = 0; l < p->num_levels; l++) {
    const cavum_pencil_level *level = &p->factor_owner->levels[l];
    if (p->factor_owner->is_lean && l != p->factor_owner->resident) continue;
    p->levels[l].num_negative =
        level->num_negative -
        cavum_block_factor_count_negative(&level->factor, cavum_pencil_num_closed(p, l));
  }
}

// Eliminates and factorises at all levels, of a lean pencil at one; `safe` when no pivot was
// unsafe.
static cavum_status factorise_at(cavum_pencil *pencil, bool *safe, cavum_condensed *condensed,
                                 double shift_per_m2, int only, cavum_error *error) {
  cavum_status status = cavum_condensed_eliminate(condensed, shift_per_m2, error);
  *safe = !condensed->unsafe;
  for (int l = 0; status == CAVUM_OK && l < pencil->num_levels; l++) {
    if (pencil->is_lean && l != only) continue;
    status = factorise_level(pencil, safe, condensed, l, error);
  }
  return status;
}

static bool is_factorised_at(const cavum_pencil *pencil, const cavum_condensed *condensed,
                             double shift_per_m2) {
  return pencil->condensed == condensed && condensed->eliminated &&
         pencil->generation == condensed->generation && pencil->asked_per_m2 == shift_per_m2;
}

// An unsafe shift is raised, so many times.
static cavum_status factorise_near(bool *safe, cavum_pencil *pencil, cavum_condensed *condensed,
                                   double shift_per_m2, int level, int tries, cavum_error *error) {
  double shift = shift_per_m2;
  for (int i = 0; i < tries; i++) {
    cavum_status status = factorise_at(pencil, safe, condensed, shift, level, error);
    if (status != CAVUM_OK) return status;
    if (*safe) {
      pencil->condensed = condensed;
      pencil->generation = condensed->generation;
      pencil->shift_per_m2 = shift;
      pencil->asked_per_m2 = shift_per_m2;
      return CAVUM_OK;
    }
    shift = shift_per_m2 + SHIFT_STEP * pow(SHIFT_GROWTH, i) * fabs(shift_per_m2);
    if (shift_per_m2 == 0.0) break;
  }
  return CAVUM_OK;
}

// A pencil with factors of its own, in single precision as long as that holds its numbers.
static cavum_status factorise_own(cavum_pencil *pencil, cavum_condensed *condensed,
                                  double shift_per_m2, int level, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool safe = false;
  pencil->condensed = NULL;
  if (pencil->is_single) {
    status = factorise_near(&safe, pencil, condensed, shift_per_m2, level, SINGLE_TRIES, error);
    if (status != CAVUM_OK || safe) return status;
    pencil->needs_double = true;
    pencil->is_single = false;
  }
  status = factorise_near(&safe, pencil, condensed, shift_per_m2, level, SHIFT_TRIES, error);
  if (status != CAVUM_OK || safe) return status;
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "no safe factorisation near the shift %.17g 1/m^2",
                    shift_per_m2);
}

static cavum_status factorise(cavum_pencil *pencil, cavum_condensed *condensed, double shift_per_m2,
                              int level, bool is_single, cavum_error *error) {
  cavum_pencil *owner = pencil->factor_owner ? pencil->factor_owner : pencil;
  if (!CAVUM_HOLDS(condensed->discretisation == pencil->discretisation &&
                   condensed->num_levels >= pencil->num_levels)) {
    return cavum_fail_internal(error, "matrices of another discretisation");
  }
  is_single = is_single && !owner->needs_double;
  if (!is_factorised_at(owner, condensed, shift_per_m2) || owner->is_single != is_single ||
      (owner->is_lean && owner->resident != level)) {
    owner->is_single = is_single;
    cavum_status status = factorise_own(owner, condensed, shift_per_m2, level, error);
    if (status != CAVUM_OK) return status;
  }
  if (owner != pencil) take_from_owner(pencil);
  return CAVUM_OK;
}

cavum_status cavum_pencil_factorise(cavum_pencil *pencil, cavum_condensed *condensed,
                                    double shift_per_m2, cavum_error *error) {
  return factorise(pencil, condensed, shift_per_m2, 0, false, error);
}

cavum_status cavum_pencil_factorise_once(bool *safe, cavum_pencil *pencil,
                                         cavum_condensed *condensed, double shift_per_m2,
                                         cavum_error *error) {
  cavum_pencil *owner = pencil->factor_owner ? pencil->factor_owner : pencil;
  if (!CAVUM_HOLDS(condensed->discretisation == pencil->discretisation &&
                   condensed->num_levels >= pencil->num_levels && !owner->is_lean)) {
    return cavum_fail_internal(error, "matrices of another discretisation");
  }
  *safe = is_factorised_at(owner, condensed, shift_per_m2);
  if (!*safe) {
    owner->condensed = NULL;
    cavum_status status = factorise_near(safe, owner, condensed, shift_per_m2, 0, 1, error);
    if (status != CAVUM_OK || !*safe) return status;
  }
  if (owner != pencil) take_from_owner(pencil);
  return CAVUM_OK;
}

cavum_status cavum_pencil_factorise_single(cavum_pencil *pencil, cavum_condensed *condensed,
                                           double shift_per_m2, cavum_error *error) {
  return factorise(pencil, condensed, shift_per_m2, 0, pencil->is_lean, error);
}

cavum_status cavum_pencil_factorise_from(cavum_pencil *pencil, cavum_condensed *condensed,
                                         double shift_per_m2, int level, cavum_error *error) {
  return factorise(pencil, condensed, shift_per_m2, level, false, error);
}

// In double precision, or in that which the factors have.
static cavum_status reach(cavum_pencil *pencil, int level, bool in_double, cavum_error *error) {
  cavum_pencil *owner = pencil->factor_owner ? pencil->factor_owner : pencil;
  if (!owner->is_lean) return CAVUM_OK;
  if (!CAVUM_HOLDS(owner->condensed)) return cavum_fail_internal(error, "nothing is factorised");
  return factorise(pencil, owner->condensed, owner->asked_per_m2, level,
                   owner->is_single && !in_double, error);
}

cavum_status cavum_pencil_reach_level(cavum_pencil *pencil, int level, cavum_error *error) {
  return reach(pencil, level, true, error);
}

cavum_status cavum_pencil_reach_level_as_is(cavum_pencil *pencil, int level, cavum_error *error) {
  return reach(pencil, level, false, error);
}
