// SPDX-License-Identifier: GPL-3.0-or-later
// Each mode has a solver of its own, which remembers the half before.
#include "steps/pair.h"

#include <math.h>

#include "base/base.h"
#include "contour/axial_length.h"
#include "solve/solver.h"
#include "steps/shape.h"
#include "steps/shape_step.h"

// Figures of halves are not asked for.
static const double FREQUENCY_ALONE = 0.1;

cavum_status cavum_pair_start(cavum_pair *pair, cavum_half_side side,
                              const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options own = *options;
  pair->side = side;
  own.profiles = true;
  own.coupling = own.derivatives = own.wall_derivatives = false;
  own.field_order = 0;
  for (int k = 0; side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    cavum_status status = cavum_solver_create(&pair->solvers[k], &own, error);
    if (status != CAVUM_OK) return status;
    cavum_solver_use_densities_alone(pair->solvers[k]);
  }
  return CAVUM_OK;
}

void cavum_pair_clear(cavum_pair *pair) {
  for (int k = 0; k < CAVUM_NUM_PAIR_MODES; k++) {
    cavum_result_destroy(&pair->solved[k]);
    cavum_solver_destroy(&pair->solvers[k]);
  }
}

static cavum_figure figure_of(const cavum_result *result) {
  return cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_FREQUENCY);
}

static double frequency_of(const cavum_result *result) {
  cavum_figure f = figure_of(result);
  return f.state == CAVUM_FIGURE_PRESENT ? f.value : NAN;
}

static cavum_status solve_half(cavum_result **result, double ends_m[2], cavum_pair *pair,
                               cavum_pair_mode mode, const cavum_cell *shape, cavum_error *error) {
  cavum_cell half;
  cavum_result *solved = NULL;
  cavum_status status = cavum_shape_take_half(&half, shape, pair->side, mode, error);
  if (status != CAVUM_OK) return status;
  cavum_contour_find_ends(&ends_m[0], &ends_m[1], &half.path);
  half.near_hz = 0.0;
  half.accuracy_other_figures = FREQUENCY_ALONE;
  status = cavum_solver_solve(&solved, pair->solvers[mode], &half, error);
  // Peaks at an edge that a cut leaves are not asked for.
  if (status == CAVUM_ERR_NOT_CONVERGED && isfinite(frequency_of(solved))) status = CAVUM_OK;
  cavum_cell_clear(&half);
  if (status == CAVUM_OK) {
    *result = solved;
  } else {
    cavum_result_destroy(&solved);
  }
  return status;
}

cavum_status cavum_pair_solve(cavum_pair *pair, const cavum_cell *shape, cavum_error *error) {
  for (int k = 0; pair->side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    cavum_result *solved = NULL;
    cavum_status status =
        solve_half(&solved, pair->ends_m[k], pair, (cavum_pair_mode)k, shape, error);
    if (status != CAVUM_OK) return status;
    cavum_result_destroy(&pair->solved[k]);
    pair->solved[k] = solved;
  }
  return CAVUM_OK;
}

double cavum_pair_hz(const cavum_pair *pair, cavum_pair_mode mode) {
  return frequency_of(pair->solved[mode]);
}

static cavum_status try_amount(double *frequency_hz, cavum_pair *pair, cavum_pair_mode mode,
                               const cavum_cell *shape, const cavum_chain_step *step,
                               double amount_m, cavum_error *error) {
  cavum_cell moved;
  double ends_m[2];
  cavum_result *solved = NULL;
  cavum_status status = cavum_shape_copy(&moved, shape, error);
  if (status != CAVUM_OK) return status;
  status = cavum_shape_take_step(&moved, step, amount_m, error);
  if (status == CAVUM_OK) status = solve_half(&solved, ends_m, pair, mode, &moved, error);
  if (status == CAVUM_OK) *frequency_hz = frequency_of(solved);
  cavum_result_destroy(&solved);
  cavum_cell_clear(&moved);
  return status;
}

// Change of a frequency with the length that a cut takes off the half, Hz/m. Its equator is at the
// right end of a left half; at the iris of the other half nothing is done to it.
static double density_slope(const cavum_pair *pair, int mode, cavum_wall_place place) {
  bool is_left = pair->side == CAVUM_HALF_LEFT;
  bool other = place == (is_left ? CAVUM_AT_RIGHT_IRIS : CAVUM_AT_LEFT_IRIS);
  bool at_right = (place == CAVUM_AT_EQUATOR) == is_left;
  if (other) return 0.0;
  return cavum_shape_slope_of_end(cavum_result_mode(pair->solved[mode], 0),
                                  cavum_pair_hz(pair, (cavum_pair_mode)mode), pair->ends_m[mode],
                                  at_right);
}

void cavum_pair_look_at_cut(cavum_pair *pair, const cavum_chain_step *step) {
  for (int k = 0; pair->side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    pair->before[k] = figure_of(pair->solved[k]);
    pair->cut_slope[k] = density_slope(pair, k, step->place);
  }
}

// From the shape behind the cut and two that are cut slightly less.
static cavum_status set_difference(cavum_pair *pair, int mode, const cavum_cell *before,
                                   const cavum_chain_step *step, cavum_error *error) {
  double amount_m = step->amount_m.value, part_m = CAVUM_SHAPE_DIFFERENCE_PART * amount_m,
         tried_hz[2];
  for (int i = 0; i < 2; i++) {
    cavum_status status = try_amount(&tried_hz[i], pair, (cavum_pair_mode)mode, before, step,
                                     amount_m - (i + 1) * part_m, error);
    if (status != CAVUM_OK) return status;
  }
  double f = cavum_pair_hz(pair, (cavum_pair_mode)mode);
  pair->cut_slope[mode] = (3.0 * f - 4.0 * tried_hz[0] + tried_hz[1]) / (2.0 * part_m);
  return CAVUM_OK;
}

cavum_status cavum_pair_close_cut(cavum_pair *pair, const cavum_cell *before,
                                  const cavum_chain_step *step, cavum_error *error) {
  double amount_m = step->amount_m.value;
  for (int k = 0; pair->side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    cavum_figure now = figure_of(pair->solved[k]), was = pair->before[k];
    const double slopes[2] = {pair->cut_slope[k], density_slope(pair, k, step->place)};
    double change_hz = now.value - was.value, unsure_hz = now.uncertainty + was.uncertainty;
    pair->cut_slope[k] = slopes[1];
    if (cavum_shape_slopes_add_up(slopes, amount_m, change_hz, unsure_hz)) continue;
    double missing_hz = change_hz - 0.5 * (slopes[0] + slopes[1]) * amount_m;
    // Differences that are less certain than what is missing are none.
    if (CAVUM_SHAPE_DIFFERENCE_PART * fabs(missing_hz) <= before->accuracy_frequency * now.value) {
      pair->cut_slope[k] += missing_hz / amount_m;
      continue;
    }
    cavum_status status = set_difference(pair, k, before, step, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

double cavum_pair_part_of_stretch(const cavum_pair *pair, cavum_pair_mode mode) {
  double f = cavum_pair_hz(pair, mode);
  return cavum_shape_slope_of_stretch(cavum_result_mode(pair->solved[mode], 0), f) / f;
}

double cavum_pair_slope(const cavum_pair *pair, cavum_pair_mode mode, const cavum_cell *shape,
                        const cavum_chain_step *step) {
  const cavum_mode_result *solved = cavum_result_mode(pair->solved[mode], 0);
  double f = cavum_pair_hz(pair, mode);
  switch (step->kind) {
    case CAVUM_STEP_REMOVE:
    case CAVUM_STEP_PRESSURE:
    case CAVUM_STEP_DEPOSIT: {
      double slope = cavum_shape_slope_of_depth(solved, shape, &step->depth);
      return step->kind == CAVUM_STEP_DEPOSIT ? -slope : slope;
    }
    case CAVUM_STEP_STRETCH:
    case CAVUM_STEP_PRELOAD:
      return step->whole_over_cell * step->plastic_share * cavum_pair_part_of_stretch(pair, mode) *
             f / cavum_contour_length_m(&shape->path);
    default:
      return step->amount_m.value == 0.0 ? NAN : pair->cut_slope[mode];
  }
}
