// SPDX-License-Identifier: GPL-3.0-or-later
// Readings that disagree: what of it can be explained, and what is said of it.
#include "coldtest/disagreement.h"

#include <gsl/gsl_cdf.h>
#include <stdio.h>
#include <string.h>

// A chi squared that chance makes as large less often than this is no chance.
static const double UNLIKELY = 1e-3;
// The others agree without a reading: chance makes their chi squared as large at least this often.
static const double OTHERS_AGREE = 1e-2;
// A reading is left out when chi squared falls by at least so much: five standard deviations.
static const double FAR_OFF = 25.0;
// Two others that agree can outvote one.
enum { FEWEST_TO_OUTVOTE = 3 };
// Stated and measured differ when they are this many of their combined uncertainties apart.
static const double STATED_APART = 2.0;

bool cavum_disagrees(const cavum_branch_fit *fit, const cavum_branch_answer *answer) {
  return !fit->no_uncertainty && answer->degrees_of_freedom > 0 && answer->probability < UNLIKELY;
}

// By chi squared of all readings and without one of them. Where the others scatter more than is
// stated, as they do when a reading was taken for too certain, their own scatter is the measure:
// the ratio of both sums of squares, each per degree of freedom, has the F distribution
// [AbramowitzStegun1964], and any of the `decays` might have been the largest.
static bool stands_out(const cavum_branch_answer *all, const cavum_branch_answer *without,
                       int decays) {
  double fallen = all->chi_squared - without->chi_squared;
  int freedom = without->degrees_of_freedom, fewer = all->degrees_of_freedom - freedom;
  if (freedom < 1 || !(fallen > FAR_OFF)) return false;
  if (without->probability > OTHERS_AGREE) return true;
  if (fewer < 1) return false;
  double ratio = (fallen / fewer) / (without->chi_squared / freedom);
  return gsl_cdf_fdist_Q(ratio, fewer, freedom) * decays < UNLIKELY;
}

// The reading without which all others agree best; -1: none. `without` is their answer.
static int find_outlier(cavum_branch_answer *without, cavum_branch_fit *fit,
                        const cavum_branch_answer *all) {
  int found = -1, decays = 0;
  for (int i = 0; i < fit->count; i++) decays += fit->readings[i].by_decay;
  for (int i = 0; i < fit->count && decays >= FEWEST_TO_OUTVOTE; i++) {
    cavum_branch_answer tried;
    fit->readings[i].left_out = true;
    cavum_branch_search_best(&tried, fit);
    fit->readings[i].left_out = false;
    if (found >= 0 && !(tried.chi_squared < without->chi_squared)) continue;
    *without = tried;
    found = i;
  }
  return found >= 0 && stands_out(all, without, decays) ? found : -1;
}

static void name_outlier(cavum_coldtest *test, const cavum_branch_fit *fit,
                         const cavum_branch_answer *answer, int outlier) {
  double solution[CAVUM_FIT_MOST_UNKNOWNS];
  char where[300], external[60] = "";
  cavum_inverted inverted;
  const cavum_fit_reading *reading = &fit->readings[outlier];
  cavum_reading_place place = {test->readings.file, reading->index,
                               test->readings.items[reading->index].line};
  cavum_reading_place_text(where, &place);
  cavum_branch branch =
      answer->best.of[outlier] == CAVUM_FIT_UNDER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
  cavum_branch_fit_evaluate(fit, &answer->best, solution);
  if (cavum_coldtest_invert_by_decay(&inverted, test, branch, reading->index, NULL) != CAVUM_OK) {
    return;
  }
  double external_here = inverted.result[CAVUM_QUANTITY_Q_EXTERNAL].value;
  if (!fit->scope.moved) {
    snprintf(external, sizeof external, "Q_e of %.3g (others %.3g)", external_here,
             fit->origin[0] * exp(solution[0]));
  }
  bool has_pickup = inverted.has[CAVUM_QUANTITY_Q_PICKUP] && fit->origin[1] > 0.0;
  if (has_pickup) {
    cavum_coldtest_remark(test,
                          "%s: its decay time or a power is wrong: it gives Q_t of %.3g (others "
                          "%.3g)%s%s: left out of the calibrations",
                          where, inverted.result[CAVUM_QUANTITY_Q_PICKUP].value,
                          fit->origin[1] * exp(solution[1]), external[0] ? " and " : "", external);
  } else {
    cavum_coldtest_remark(test,
                          "%s: its decay time or a power is wrong: it gives %s: left out of the "
                          "calibrations",
                          where, external);
  }
}

static void leave_out(cavum_coldtest *test, cavum_branch_fit *fit, cavum_branch_answer *answer,
                      int outlier) {
  fit->readings[outlier].left_out = true;
  test->decided.left_out[fit->readings[outlier].index] = CAVUM_LEAVE_ALL;
  cavum_branch_search(answer, fit);
  name_outlier(test, fit, answer, outlier);
}

// Q_t of all readings agrees, whatever Q_e each has.
static bool agrees_when_moved(const cavum_branch_fit *moved, const cavum_branch_answer *answer) {
  int pickups = 0;
  for (int i = 0; i < moved->count; i++) {
    const cavum_fit_reading *reading = &moved->readings[i];
    pickups += reading->side[answer->best.of[i]].num_rows > 0;
  }
  return pickups > 1 && answer->degrees_of_freedom > 0 && answer->probability > OTHERS_AGREE;
}

// A coupler that was moved far, or one that hides the side of a reading; else the scatter of Q_e
// is only spoken of.
static bool changes_sides(const cavum_branch_fit *fit, const cavum_branch_answer *answer,
                          const cavum_branch_answer *moved) {
  return answer->chi_squared > FAR_OFF * answer->degrees_of_freedom ||
         memcmp(answer->best.of, moved->best.of, (size_t)fit->count) != 0;
}

static void take_as_moved(cavum_coldtest *test, cavum_branch_fit *fit, cavum_branch_fit *moved,
                          cavum_branch_answer *answer) {
  cavum_coldtest_remark(
      test,
      "Q_e differs from reading to reading (chi2 %.3g with %d degrees of freedom), Q_t does not: "
      "the coupler seems to have been moved, and is taken as such; state input_coupler: {moved: "
      "true}, or look for a wrong power",
      answer->chi_squared, answer->degrees_of_freedom);
  cavum_branch_fit_clear(fit);
  *fit = *moved;
  *moved = (cavum_branch_fit){0};
  cavum_branch_search(answer, fit);
}

cavum_status cavum_explain_disagreement(cavum_coldtest *test, cavum_branch_fit *fit,
                                        cavum_branch_answer *answer, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_branch_fit moved = {0};
  cavum_branch_answer *other = cavum_alloc(1, sizeof *other);
  if (!other) return cavum_fail_memory(error);
  cavum_branch_answer *without = cavum_alloc(1, sizeof *without);
  if (!without) {
    free(other);
    return cavum_fail_memory(error);
  }
  if (!fit->scope.moved) {
    CAVUM_TRY(cavum_branch_fit_create(&moved, test, (cavum_fit_scope){.moved = true}, error));
    cavum_branch_search_best(other, &moved);
    if (agrees_when_moved(&moved, other) && changes_sides(fit, answer, other)) {
      take_as_moved(test, fit, &moved, answer);
      goto done;
    }
  }
  int outlier = find_outlier(without, fit, answer);
  if (outlier >= 0) leave_out(test, fit, answer, outlier);
done:
  cavum_branch_fit_clear(&moved);
  free(other);
  free(without);
  return status;
}

static bool are_apart(const cavum_dual *stated, const cavum_dual *measured) {
  double u = hypot(cavum_dual_uncertainty(stated), cavum_dual_uncertainty(measured));
  return u > 0.0 && fabs(stated->value - measured->value) > STATED_APART * u;
}

static void remark_on_stated(cavum_coldtest *test, const char *name, const cavum_dual *stated,
                             const cavum_dual *measured) {
  cavum_coldtest_remark(
      test,
      "%s is stated as %.4g (standard uncertainty %.2g), the decays of this test give %.4g (%.2g): "
      "%.3g times the stated one, which is used; is it of another pickup, coupler or cable?",
      name, stated->value, cavum_dual_uncertainty(stated), measured->value,
      cavum_dual_uncertainty(measured), measured->value / stated->value);
}

cavum_status cavum_compare_stated(cavum_coldtest *test, cavum_error *error) {
  cavum_coldtest_calibrations measured = {0}, *used = &test->main;
  bool pickup = test->setup.q_pickup.value > 0.0, external = test->setup.q_external.value > 0.0;
  if (!pickup && !external) return CAVUM_OK;
  cavum_status status =
      cavum_coldtest_measure_calibrations(&measured, test, test->decided.branch, true, error);
  if (status != CAVUM_OK) return status;
  if (pickup && measured.has_pickup && are_apart(&used->q_pickup, &measured.q_pickup)) {
    used->pickup_ratio = measured.q_pickup.value / used->q_pickup.value;
    remark_on_stated(test, "Q_t", &used->q_pickup, &measured.q_pickup);
  }
  if (external && measured.has_external && are_apart(&used->q_external, &measured.q_external)) {
    remark_on_stated(test, "Q_e", &used->q_external, &measured.q_external);
  }
  cavum_coldtest_calibrations_clear(&measured);
  return CAVUM_OK;
}
