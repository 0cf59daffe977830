// SPDX-License-Identifier: GPL-3.0-or-later
// Each mode has a solver of its own, which remembers the half before.
#include "steps/pair.h"

#include <math.h>

#include "base/base.h"
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

static double frequency_of(const cavum_result *result) {
  cavum_figure f = cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_FREQUENCY);
  return f.state == CAVUM_FIGURE_PRESENT ? f.value : NAN;
}

static cavum_status solve_half(cavum_result **result, cavum_pair *pair, cavum_pair_mode mode,
                               const cavum_cell *shape, cavum_error *error) {
  cavum_cell half;
  cavum_result *solved = NULL;
  cavum_status status = cavum_shape_take_half(&half, shape, pair->side, mode, error);
  if (status != CAVUM_OK) return status;
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
    cavum_status status = solve_half(&solved, pair, (cavum_pair_mode)k, shape, error);
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
  cavum_result *solved = NULL;
  cavum_status status = cavum_shape_copy(&moved, shape, error);
  if (status != CAVUM_OK) return status;
  status = cavum_shape_take_step(&moved, step, amount_m, error);
  if (status == CAVUM_OK) status = solve_half(&solved, pair, mode, &moved, error);
  if (status == CAVUM_OK) *frequency_hz = frequency_of(solved);
  cavum_result_destroy(&solved);
  cavum_cell_clear(&moved);
  return status;
}

cavum_status cavum_pair_try(cavum_pair *pair, const cavum_cell *shape, const cavum_chain_step *step,
                            double part_m, cavum_error *error) {
  for (int k = 0; pair->side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    for (int i = 0; i < 2; i++) {
      double amount_m = step->amount_m.value - (i + 1) * part_m;
      cavum_status status =
          try_amount(&pair->tried_hz[k][i], pair, (cavum_pair_mode)k, shape, step, amount_m, error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

double cavum_pair_part_of_stretch(const cavum_pair *pair, cavum_pair_mode mode) {
  double f = cavum_pair_hz(pair, mode);
  return cavum_shape_slope_of_stretch(cavum_result_mode(pair->solved[mode], 0), f) / f;
}

double cavum_pair_slope(const cavum_pair *pair, cavum_pair_mode mode, const cavum_cell *shape,
                        const cavum_chain_step *step, double part_m) {
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
      return step->plastic_share * cavum_pair_part_of_stretch(pair, mode) * f /
             cavum_contour_length_m(&shape->path);
    default:
      return (3.0 * f - 4.0 * pair->tried_hz[mode][0] + pair->tried_hz[mode][1]) / (2.0 * part_m);
  }
}
