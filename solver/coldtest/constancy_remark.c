// SPDX-License-Identifier: GPL-3.0-or-later
// What the calibrating readings say of the branch and of their own uncertainties: Q_e and Q_t are
// constants of a test.
#include <gsl/gsl_cdf.h>

#include "coldtest/constancy.h"

// A chi squared that chance makes as large less often than this is spoken of.
static const double UNLIKELY = 1e-3;

// Whether readings scatter about this calibration more than chance makes them.
static bool scatters(const cavum_coldtest_calibration *calibration) {
  double freedom = (double)calibration->degrees_of_freedom;
  if (!(freedom > 0.0) || !isfinite(calibration->chi_squared)) return false;
  return gsl_cdf_chisq_Q(calibration->chi_squared, freedom) < UNLIKELY;
}

static bool has_emitted(const cavum_coldtest *test) {
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    const cavum_coldtest_reading *reading = &test->readings.items[i];
    if (!isnan(reading->decay_time_s) && !isnan(reading->power_w[CAVUM_CHANNEL_EMITTED]) &&
        !isnan(reading->power_w[CAVUM_CHANNEL_REFLECTED])) {
      return true;
    }
  }
  return false;
}

cavum_status cavum_coldtest_remark_on_constancy(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_branch stated = test->setup.branch;
  cavum_constancy used, opposite;
  CAVUM_TRY(cavum_coldtest_judge_constancy(&used, test, CAVUM_BRANCH_DECIDE, error));
  if (!(used.probability < UNLIKELY)) return CAVUM_OK;
  if (stated == CAVUM_BRANCH_OVER || stated == CAVUM_BRANCH_UNDER) {
    cavum_branch other = stated == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
    CAVUM_TRY(cavum_coldtest_judge_constancy(&opposite, test, other, error));
    double excess = cavum_coldtest_constancy_excess(&used, &opposite);
    if (excess >= CAVUM_BRANCH_DECIDED * CAVUM_BRANCH_DECIDED) {
      cavum_coldtest_remark(
          test,
          "the readings contradict the stated branch, %s: Q_e and Q_t are not constant on it "
          "(chi2 %.3g with %d degrees of freedom), they agree with %s (chi2 %.3g): Q0 and E_acc "
          "here are wrong if the branch is",
          cavum_branch_name(stated), used.chi_squared, used.degrees_of_freedom,
          cavum_branch_name(other), opposite.chi_squared);
      return CAVUM_OK;
    }
  }
  // Each calibration by itself is constant: it is the two couplings of a reading that differ.
  if (has_emitted(test) && !scatters(&test->main.pickup) && !scatters(&test->main.external)) {
    cavum_coldtest_remark(
        test,
        "reflected and emitted power contradict each other beyond the stated uncertainties (chi2 "
        "%.3g with %d degrees of freedom; Q_e and Q_t by themselves are constant): an emitted "
        "power that was read late or through another attenuator, or a drive off resonance?",
        used.chi_squared, used.degrees_of_freedom);
    return CAVUM_OK;
  }
  cavum_coldtest_remark(
      test,
      "%s of the readings %s not constant within the stated uncertainties (chi2 %.3g with %d "
      "degrees of freedom): a coupler that was moved, a drive off resonance, or readings less "
      "certain than stated?",
      test->decided.moved ? "Q_t" : "Q_e and Q_t", test->decided.moved ? "is" : "are",
      used.chi_squared, used.degrees_of_freedom);
  CAVUM_TRY(cavum_coldtest_remark_on_change(test, error));
done:
  return status;
}
