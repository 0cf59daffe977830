// SPDX-License-Identifier: GPL-3.0-or-later
// Constants of the whole test: Q_e and Q_t of the readings with a decay time. On the wrong branch
// both come out times a power of beta*, which moves with Q0: they drift.
#include "coldtest/constancy.h"

#include <gsl/gsl_cdf.h>

#include "coldtest/branch_fit.h"

// A scatter that chance makes as large less often than this is more than what is stated.
static const double UNLIKELY = 1e-3;

static cavum_fit_sides decided_sides(const cavum_branch_fit *fit, const cavum_coldtest *test) {
  cavum_fit_sides sides = {{0}};
  for (int i = 0; i < fit->count; i++) {
    cavum_fit_reading *reading = &fit->readings[i];
    bool under = test->decided.branch[reading->index] == CAVUM_BRANCH_UNDER;
    sides.of[i] = reading->fixed ? reading->fixed_side : under;
    reading->left_out = test->decided.left_out[reading->index] == CAVUM_LEAVE_ALL;
  }
  return sides;
}

cavum_status cavum_coldtest_judge_constancy(cavum_constancy *out, const cavum_coldtest *test,
                                            cavum_branch forced, cavum_error *error) {
  cavum_branch_fit fit;
  cavum_fit_scope scope = {.moved = test->decided.moved, .only = forced};
  cavum_status status = cavum_branch_fit_create(&fit, test, scope, error);
  if (status != CAVUM_OK) return status;
  cavum_fit_sides sides = decided_sides(&fit, test);
  *out = (cavum_constancy){.chi_squared = NAN, .probability = NAN};
  int spare = cavum_branch_fit_freedom(&fit, &sides);
  if (!fit.no_uncertainty && spare >= 1) {
    out->chi_squared = cavum_branch_fit_evaluate(&fit, &sides, NULL);
    out->degrees_of_freedom = spare;
    out->probability = gsl_cdf_chisq_Q(out->chi_squared, spare);
  }
  cavum_branch_fit_clear(&fit);
  return CAVUM_OK;
}

static cavum_status judge_one(cavum_coldtest_calibration *calibration, const cavum_coldtest *test,
                              cavum_fit_scope scope, cavum_error *error) {
  cavum_branch_fit fit;
  if (!isfinite(calibration->chi_squared)) return CAVUM_OK;
  cavum_status status = cavum_branch_fit_create(&fit, test, scope, error);
  if (status != CAVUM_OK) return status;
  cavum_fit_sides sides = decided_sides(&fit, test);
  // Of more readings than the fit asks, the scatter of all.
  if (!fit.no_uncertainty &&
      cavum_branch_fit_freedom(&fit, &sides) == calibration->degrees_of_freedom) {
    calibration->chi_squared = cavum_branch_fit_evaluate(&fit, &sides, NULL);
  }
  cavum_branch_fit_clear(&fit);
  return CAVUM_OK;
}

// Scatter beyond what chance makes of the stated uncertainties: the noise of the mean is what the
// readings show (Birge's ratio).
static double scatter_beyond(const cavum_coldtest_calibration *calibration) {
  if (!(calibration->degrees_of_freedom > 0) || !isfinite(calibration->chi_squared)) return 1.0;
  double freedom = (double)calibration->degrees_of_freedom;
  if (!(gsl_cdf_chisq_Q(calibration->chi_squared, freedom) < UNLIKELY)) return 1.0;
  return sqrt(calibration->chi_squared / freedom);
}

static void widen(cavum_dual *number, cavum_coldtest_calibration *calibration) {
  double by = scatter_beyond(calibration);
  if (by == 1.0) return;
  number->part[CAVUM_INPUT_PICKUP] *= by;
  number->part[CAVUM_INPUT_EXTERNAL] *= by;
  calibration->value.uncertainty = cavum_dual_uncertainty(number);
}

cavum_status cavum_coldtest_judge_scatter(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_coldtest_calibrations *used = &test->main;
  cavum_fit_scope pickup = {.of_pickup = true}, external = {.of_external = true};
  CAVUM_TRY(judge_one(&used->pickup, test, pickup, error));
  CAVUM_TRY(judge_one(&used->external, test, external, error));
  widen(&used->q_pickup, &used->pickup);
  widen(&used->q_external, &used->external);
done:
  return status;
}

double cavum_coldtest_constancy_excess(const cavum_constancy *worse,
                                       const cavum_constancy *better) {
  if (worse->degrees_of_freedom < 1 || better->degrees_of_freedom < 1) return 0.0;
  double scale = cavum_max(better->chi_squared / better->degrees_of_freedom, 1.0);
  return (worse->chi_squared - better->chi_squared) / scale;
}
