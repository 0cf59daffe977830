// SPDX-License-Identifier: GPL-3.0-or-later
// One mode by inverse iteration on a condensed, factorised pencil.
#include "eigen/modes_improve.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/mode_start.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"
#include "eigen/step_rate.h"
#include "linalg/blas_calls.h"

enum { INVERSE_STEPS = 15 };
// Vector error of a rough mode: its k^2 is then good to a few parts in ten thousand.
static const double ROUGH_ACCURACY = 3e-3;

// Inverse iteration with the Rayleigh quotient on one level. False when it does not settle.
// from_below: the start is a mode of the degree below.
// work: shape [2][size], M x of the start in front; that of the mode at the end. Where rounding
// leaves no vector at all k^2 is HUGE_VAL.
static bool iterate_inverse(cavum_modes *mode, cavum_pencil *pencil, int level, bool from_below,
                            double accuracy, double *work) {
  cavum_index size = mode->num_unknowns;
  double *x = mode->vectors, *mx = work, *b = work + size, moved_before = 1.0, turned_before = 1.0;
  double norm_before = cblas_ddot(size, x, 1, mx, 1);
  int still = 0;  // steps since k^2 stopped changing
  for (int step = 0; step < INVERSE_STEPS; step++) {
    double before = mode->k2_per_m2[0], shift = pencil->shift_per_m2;
    memcpy(b, mx, (size_t)size * sizeof *b);
    cavum_pencil_solve(x, pencil, level, b);
    cavum_pencil_apply_mass(mx, pencil, x);
    if (cavum_stop_asked()) return false;  // what was just computed may be half done
    // With A x = b the quotient needs no product with A = K - shift M.
    double norm = cblas_ddot(size, x, 1, mx, 1), overlap = cblas_ddot(size, x, 1, b, 1);
    double k2_less_shift = overlap / norm;
    if (!(norm > 0.0) || !isfinite(k2_less_shift)) {
      mode->k2_per_m2[0] = HUGE_VAL;
      return false;
    }
    mode->k2_per_m2[0] = shift + k2_less_shift;
    cblas_dscal(size, 1.0 / sqrt(norm), x, 1);
    cblas_dscal(size, 1.0 / sqrt(norm), mx, 1);
    // A converged eigenvalue does not mean a converged vector: its error is the square root, of
    // which the step just made has left a part.
    double change = before < HUGE_VAL ? fabs(mode->k2_per_m2[0] / before - 1.0) : 1.0;
    bool first = from_below && step == 0;
    double moved = cavum_step_moved(change);
    double left = first ? cavum_step_error_from_below(moved, k2_less_shift, shift,
                                                      mode->vector_error[0], CAVUM_STEP_RATE_FIRST)
                        : cavum_step_error_left(moved, moved_before);
    double moved_by_turn = cavum_step_turned(overlap * overlap / (norm * norm_before));
    double left_by_turn =
        first ? cavum_step_error_from_below(moved_by_turn, k2_less_shift, shift,
                                            mode->vector_error[0], CAVUM_STEP_RATE_FIRST)
              : cavum_step_error_left(moved_by_turn, turned_before);
    still = change < CAVUM_STEP_ROUNDING_CHANGE ? still + 1 : 0;
    left = cavum_min(left, cavum_step_error_still(still));
    mode->vector_error[0] = cavum_min(left, left_by_turn);
    if (left <= accuracy) return true;
    moved_before = change < 1.0 ? moved : 1.0;
    turned_before = moved_by_turn;
    norm_before = 1.0;
  }
  return false;
}

// One mode below the shift at a level, and the static one where there is one.
static bool has_one_below(const cavum_pencil *pencil, int level) {
  return pencil->levels[level].num_negative == 1 + (cavum_modes_has_static(pencil) ? 1 : 0);
}

static bool all_have_one_below(const cavum_pencil *pencil) {
  for (int l = 0; l < pencil->num_levels; l++) {
    if (!has_one_below(pencil, l)) return false;
  }
  return true;
}

// The shift goes above the mode, so that the same factorisation counts the modes below.
static cavum_status factorise_above(cavum_pencil *pencil, cavum_condensed *condensed, bool close,
                                    double k2_per_m2, cavum_error *error) {
  if (close && !pencil->is_lean) {
    bool safe;
    cavum_status status =
        cavum_pencil_factorise_once(&safe, pencil, condensed, CAVUM_SHIFT_CLOSE * k2_per_m2, error);
    if (status != CAVUM_OK || (safe && all_have_one_below(pencil))) return status;
  }
  return cavum_pencil_factorise_from(pencil, condensed, CAVUM_SHIFT_ABOVE * k2_per_m2,
                                     pencil->num_levels - 1, error);
}

// Improves a guess at the lowest level and then at each one above: what a guess lacks is found
// where it costs least; the levels above add what is theirs.
static cavum_status climb_levels(cavum_modes *found, bool *settled, cavum_pencil *pencil,
                                 const cavum_modes *guess, double accuracy, double *work,
                                 cavum_error *error) {
  int lowest = pencil->num_levels - 1;
  *settled = true;
  for (int l = lowest; l >= 0 && *settled; l--) {
    const cavum_modes *from = l == lowest ? guess : &found[l + 1];
    cavum_status status = cavum_stop_check(error);
    if (status == CAVUM_OK) {
      status = cavum_modes_allocate(&found[l], from->count, from->num_unknowns, error);
    }
    if (status != CAVUM_OK) return status;
    cavum_modes_copy(&found[l], from, 0, from->count);
    if (l == lowest) {
      cavum_space_truncate(found[l].vectors, &pencil->discretisation->space,
                           pencil->levels[l].degree);
      cavum_pencil_apply_mass(work, pencil, found[l].vectors);
    }
    double enough = l == lowest || l == 0 ? accuracy : CAVUM_ACCURACY_BETWEEN * accuracy;
    status = cavum_pencil_reach_level(pencil, l, error);
    if (status != CAVUM_OK) return status;
    *settled =
        has_one_below(pencil, l) && iterate_inverse(&found[l], pencil, l, l < lowest, enough, work);
    // The one mode below the shift, and not the one above it that may be closer.
    *settled = *settled && found[l].k2_per_m2[0] < pencil->shift_per_m2;
  }
  return cavum_stop_check(error);
}

cavum_status cavum_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                 cavum_condensed *condensed, bool close, const cavum_modes *guess,
                                 double accuracy, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found[CAVUM_LEVELS_MOST] = {{0}};
  if (!CAVUM_HOLDS(guess->count == 1)) return cavum_fail_internal(error, "one mode is improved");
  double *work = cavum_alloc(2 * (int64_t)guess->num_unknowns, sizeof *work);
  accuracy = cavum_max(accuracy * guess->accuracy_factor[0], CAVUM_STEP_ACCURACY_LEAST);
  *settled = false;
  if (!work) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(factorise_above(pencil, condensed, close, guess->k2_per_m2[0], error));
  if (!pencil->is_lean && !all_have_one_below(pencil)) goto done;
  CAVUM_TRY(climb_levels(found, settled, pencil, guess, accuracy, work, error));
  for (int l = 0; l < pencil->num_levels && *settled; l++) {
    modes[l] = found[l];
    found[l] = (cavum_modes){0};
  }
done:
  if (status != CAVUM_OK) *settled = false;
  free(work);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&found[l]);
  return status;
}

cavum_status cavum_modes_find_roughly(cavum_modes *mode, cavum_pencil *pencil,
                                      cavum_condensed *condensed, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found = {0};
  cavum_index size = pencil->discretisation->space.num_unknowns;
  double *work = cavum_alloc(2 * (int64_t)size, sizeof *work);
  if (!work) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_modes_allocate(&found, 1, size, error));
  CAVUM_TRY(cavum_mode_start_factorise(pencil, condensed, NULL, error));
  cavum_mode_start_fill(found.vectors, pencil, NULL);
  found.k2_per_m2[0] = HUGE_VAL;
  cavum_pencil_apply_mass(work, pencil, found.vectors);
  (void)iterate_inverse(&found, pencil, pencil->num_levels - 1, false, ROUGH_ACCURACY, work);
  CAVUM_TRY(cavum_stop_check(error));
  if (!(found.k2_per_m2[0] < HUGE_VAL)) goto done;
  *mode = found;
  found = (cavum_modes){0};
done:
  free(work);
  cavum_modes_clear(&found);
  return status;
}
