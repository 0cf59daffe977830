// SPDX-License-Identifier: GPL-3.0-or-later
// What the calibrating readings say of the branch and of their own uncertainties: Q_e and Q_t are
// constants of a test.
#include "coldtest/constancy.h"

// A chi squared that chance makes as large less often than this is spoken of.
static const double UNLIKELY = 1e-3;

void cavum_coldtest_remark_on_constancy(cavum_coldtest *test) {
  cavum_branch stated = test->setup.branch;
  cavum_constancy used, opposite;
  cavum_coldtest_judge_constancy(&used, test, &test->main, CAVUM_BRANCH_DECIDE);
  if (!(used.probability < UNLIKELY)) return;
  if (stated == CAVUM_BRANCH_OVER || stated == CAVUM_BRANCH_UNDER) {
    cavum_branch other = stated == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
    cavum_coldtest_judge_constancy(&opposite, test, &test->main, other);
    double excess = cavum_coldtest_constancy_excess(&used, &opposite);
    if (excess >= CAVUM_BRANCH_DECIDED * CAVUM_BRANCH_DECIDED) {
      cavum_coldtest_remark(
          test,
          "the readings contradict the stated branch, %s: Q_e and Q_t are not constant on it "
          "(chi2 %.3g with %d degrees of freedom), they agree with %s (chi2 %.3g): Q0 and E_acc "
          "here are wrong if the branch is",
          cavum_branch_name(stated), used.chi_squared, used.degrees_of_freedom,
          cavum_branch_name(other), opposite.chi_squared);
      return;
    }
  }
  cavum_coldtest_remark(
      test,
      "Q_e and Q_t of the readings are not constant within the stated uncertainties (chi2 %.3g "
      "with %d degrees of freedom): a coupler that was moved, a drive off resonance, or readings "
      "less certain than stated?",
      used.chi_squared, used.degrees_of_freedom);
}
