// SPDX-License-Identifier: GPL-3.0-or-later
// Over- or undercoupled, decided by all readings of a test together.
//
// Far from critical coupling the emitted power of each calibration decides by itself. Near it, two
// assumptions are worked out, all calibrations over- and all undercoupled, and judged by two facts:
// the reflection must be what the emitted power shows, and Q_e is one constant of the whole test.
// On the wrong branch Q_e comes out times beta*, which moves with Q0: it drifts. Where Q0 does not
// move enough on both for a drift to be seen, both constants, Q_e and Q_t, are asked as a whole
// (constancy.h): with a Q0 that falls, that of the wrong branch may look as if it did not. The
// better assumption is used; where the other is not 3 standard deviations worse it stays open, and
// every uncertainty is widened until it holds both.
#include <string.h>

#include "coldtest/constancy.h"

// Later steps that are asked: more would say the same.
enum { MOST_LATER_STEPS = 200 };
// Q0 must vary by this many times its own noise before a drift of Q_e with it means anything: both
// come from the same readings.
static const double VARIATION_RESOLVED = 3.0;

/** A sum of numbers whose shared parts add and whose own noise does not. */
typedef struct pooled {
  cavum_dual sum;  // Its local parts are not used.
  double local_variance;
} pooled;

static double local_variance(const cavum_dual *number) {
  double sum = 0.0;
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) {
    sum += number->part[i] * number->part[i];
  }
  return sum;
}

static void pool(pooled *p, double weight, const cavum_dual *number) {
  p->local_variance += weight * weight * local_variance(number);
  p->sum = cavum_dual_linear(1.0, &p->sum, weight, number, 0.0);
}

// Square of the sum over its variance; 0 without any uncertainty.
static double pooled_score(const pooled *p) {
  double variance = p->local_variance;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) variance += p->sum.part[i] * p->sum.part[i];
  return variance > 0.0 ? p->sum.value * p->sum.value / variance : 0.0;
}

static double weight_of(const cavum_dual *number) {
  double variance = local_variance(number);
  return variance > 0.0 ? 1.0 / variance : 1.0;
}

static cavum_dual logarithm(const cavum_dual *x) {
  return cavum_dual_chain(log(x->value), 1.0 / x->value, x, 0.0, x);
}

static bool calibrates(const cavum_coldtest *test, int64_t index) {
  return !isnan(test->readings.items[index].decay_time_s);
}

/** What one assumption is judged by. */
typedef struct evidence {
  cavum_coldtest_calibrations calibrations;  // Owned.
  double mismatch;                           // Scores, like chi squared.
  double drift;
  bool has_mismatch, has_drift;
  cavum_constancy constancy;
} evidence;

// ln Q0 and ln Q_e of a reading under an assumption.
static bool qualities(cavum_dual *q0, cavum_dual *external, const cavum_coldtest *test,
                      const evidence *e, int64_t index) {
  cavum_inverted inverted;
  if (cavum_coldtest_invert_with(&inverted, test, &e->calibrations, index, CAVUM_BRANCH_DECIDE,
                                 NULL) != CAVUM_OK ||
      !inverted.has[CAVUM_QUANTITY_Q_EXTERNAL]) {
    return false;
  }
  *q0 = logarithm(&inverted.result[CAVUM_QUANTITY_Q0]);
  *external = logarithm(&inverted.result[CAVUM_QUANTITY_Q_EXTERNAL]);
  return true;
}

static bool is_asked(const cavum_coldtest *test, int64_t index) {
  int64_t stride = test->readings.num_readings / MOST_LATER_STEPS + 1;
  return calibrates(test, index) || index % stride == 0;
}

// Slope of ln Q_e over ln Q0, a weighted sum of the ln Q_e.
static void judge_drift(evidence *e, const cavum_coldtest *test) {
  double weight = 0.0, mean = 0.0, squares = 0.0, noise = 0.0;
  cavum_dual q0, external;
  int64_t count = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!is_asked(test, i) || !qualities(&q0, &external, test, e, i)) continue;
    double w = weight_of(&external), from_mean = q0.value - mean;
    weight += w;
    mean += from_mean * w / weight;
    squares += w * from_mean * (q0.value - mean);
    noise += w * local_variance(&q0);
    count++;
  }
  e->has_drift =
      count > 1 && squares > VARIATION_RESOLVED * VARIATION_RESOLVED * noise && squares > 0.0;
  if (!e->has_drift) return;
  pooled slope = {.sum = cavum_dual_constant(0.0)};
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!is_asked(test, i) || !qualities(&q0, &external, test, e, i)) continue;
    pool(&slope, weight_of(&external) * (q0.value - mean) / squares, &external);
  }
  e->drift = pooled_score(&slope);
}

// What the reflection and the emitted power say of each other, and Q_e of the one that was stated.
static void judge_mismatch(evidence *e, const cavum_coldtest *test) {
  bool stated = test->setup.q_external.value > 0.0;
  pooled sum = {.sum = cavum_dual_constant(0.0)}, from_stated = sum;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    cavum_inverted inverted;
    if (!calibrates(test, i) ||
        cavum_coldtest_invert_by_decay(&inverted, test, &e->calibrations,
                                       &e->calibrations.q_external, i, NULL) != CAVUM_OK) {
      continue;
    }
    if (inverted.has_mismatch) {
      cavum_dual mismatch = cavum_coldtest_share_phase(inverted.mismatch);
      pool(&sum, weight_of(&mismatch), &mismatch);
      e->has_mismatch = true;
    }
    if (stated) {
      cavum_dual off = cavum_dual_subtract(&inverted.result[CAVUM_QUANTITY_Q_EXTERNAL],
                                           &e->calibrations.q_external);
      pool(&from_stated, weight_of(&off), &off);
      e->has_mismatch = true;
    }
  }
  e->mismatch = pooled_score(&sum) + pooled_score(&from_stated);
}

// The assumption worked out: single readings that contradict its Q_e are on the other branch.
static cavum_status collect(evidence *e, const cavum_coldtest *test, cavum_branch assumed,
                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_coldtest_calibrations first = {0};
  CAVUM_TRY(cavum_coldtest_measure_calibrations(&first, test, assumed, NULL, error));
  CAVUM_TRY(cavum_coldtest_measure_calibrations(&e->calibrations, test, assumed, &first.q_external,
                                                error));
  judge_mismatch(e, test);
  judge_drift(e, test);
  cavum_coldtest_judge_constancy(&e->constancy, test, &e->calibrations, CAVUM_BRANCH_DECIDE);
done:
  cavum_coldtest_calibrations_clear(&first);
  return status;
}

// True when every calibration that can be inverted is certain of its branch by itself.
static bool each_is_certain(const cavum_coldtest *test) {
  cavum_coldtest_calibrations alone = {.assumed = CAVUM_BRANCH_DECIDE};
  alone.q_external = cavum_coldtest_figure(&test->setup.q_external, CAVUM_INPUT_EXTERNAL);
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    cavum_inverted inverted = {.branch = CAVUM_BRANCH_DECIDE};
    if (!calibrates(test, i)) continue;
    cavum_status status = cavum_coldtest_invert_by_decay(&inverted, test, &alone, NULL, i, NULL);
    if (status == CAVUM_OK && inverted.branch_distance < CAVUM_BRANCH_CERTAIN) return false;
    if (status != CAVUM_OK && inverted.branch == CAVUM_BRANCH_UNKNOWN) return false;
  }
  return true;
}

static cavum_status fail_undecided(const cavum_coldtest *test, cavum_error *error) {
  char where[300];
  int64_t i = 0;
  while (i + 1 < test->readings.num_readings && !calibrates(test, i)) i++;
  cavum_reading_place place = {test->readings.file, i, test->readings.items[i].line};
  cavum_reading_place_text(where, &place);
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%s: nothing decides the coupling branch: state over or under, or read the "
                    "emitted power at switch-off",
                    where);
}

static double square(double x) { return x * x; }

// How much worse the assumption of undercoupling is; negative: better.
static double compare(const evidence *over, const evidence *under) {
  double excess = under->mismatch - over->mismatch;
  if (over->has_drift && under->has_drift) return excess + under->drift - over->drift;
  bool over_fits = over->constancy.chi_squared <= under->constancy.chi_squared;
  double spread = over_fits ? cavum_coldtest_constancy_excess(&under->constancy, &over->constancy)
                            : -cavum_coldtest_constancy_excess(&over->constancy, &under->constancy);
  return excess + spread;
}

static cavum_status choose(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  evidence over = {0}, under = {0};
  CAVUM_TRY(collect(&over, test, CAVUM_BRANCH_OVER, error));
  CAVUM_TRY(collect(&under, test, CAVUM_BRANCH_UNDER, error));
  double excess = compare(&over, &under);
  bool judged = over.has_mismatch || (over.has_drift && under.has_drift);
  // Two constants alone decide or say nothing: they leave no branch open.
  if (!judged && !(fabs(excess) >= square(CAVUM_BRANCH_DECIDED))) {
    status = fail_undecided(test, error);
    goto done;
  }
  evidence *better = excess >= 0.0 ? &over : &under;
  evidence *worse = better == &over ? &under : &over;
  test->branch_open = fabs(excess) < square(CAVUM_BRANCH_DECIDED);
  test->main = better->calibrations;
  better->calibrations = (cavum_coldtest_calibrations){0};
  if (test->branch_open) {
    test->other = worse->calibrations;
    worse->calibrations = (cavum_coldtest_calibrations){0};
  }
done:
  cavum_coldtest_calibrations_clear(&over.calibrations);
  cavum_coldtest_calibrations_clear(&under.calibrations);
  return status;
}

// The calibration as printed holds both branches too.
static void widen_estimate(cavum_coldtest_calibration *calibration, const cavum_dual *number,
                           const cavum_dual *other, double factor) {
  cavum_dual widened = *number;
  cavum_coldtest_widen(&widened, other, factor);
  calibration->value.uncertainty = cavum_dual_uncertainty(&widened);
}

cavum_status cavum_coldtest_decide_branch(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool stated = test->setup.branch == CAVUM_BRANCH_OVER || test->setup.branch == CAVUM_BRANCH_UNDER;
  if (stated || each_is_certain(test)) {
    return cavum_coldtest_measure_calibrations(&test->main, test, CAVUM_BRANCH_DECIDE, NULL, error);
  }
  CAVUM_TRY(choose(test, error));
  if (test->branch_open) {
    double factor = cavum_coldtest_coverage_factor(test->setup.coverage);
    widen_estimate(&test->main.pickup, &test->main.q_pickup, &test->other.q_pickup, factor);
    widen_estimate(&test->main.external, &test->main.q_external, &test->other.q_external, factor);
  }
done:
  return status;
}
