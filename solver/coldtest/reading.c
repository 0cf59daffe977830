// SPDX-License-Identifier: GPL-3.0-or-later
// One reading of a test to its results, with the calibrations of the test: decay or pickup. Where
// the branch is open the reading is inverted both ways, and the difference becomes a part of the
// budget.
#include "coldtest/coldtest_private.h"

bool cavum_coldtest_reading_by_decay(const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_reading *reading) {
  return setup->q0_method != CAVUM_Q0_PICKUP && !isnan(reading->decay_time_s);
}

static cavum_reading_place place_of(const cavum_coldtest *test, int64_t index) {
  return (cavum_reading_place){test->readings.file, index, test->readings.items[index].line};
}

cavum_status cavum_coldtest_invert_by_decay(cavum_inverted *inverted, const cavum_coldtest *test,
                                            const cavum_coldtest_calibrations *calibrations,
                                            const cavum_dual *expected, int64_t index,
                                            cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  // Only a stated Q_e may decide the branch of a single reading here: the readings give the other.
  bool stated = test->setup.q_external.value > 0.0;
  cavum_inversion_context context = {.assumed = calibrations->assumed,
                                     .setup = &test->setup,
                                     .inputs = &test->inputs,
                                     .q_external = stated ? &calibrations->q_external : expected};
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(cavum_coldtest_invert_decay(inverted, &context, &calibrated, &place, error));
done:
  return status;
}

static double square_distance(const cavum_dual *difference) {
  double uncertainty = cavum_dual_uncertainty(difference);
  return uncertainty > 0.0 ? pow(difference->value / uncertainty, 2.0) : 0.0;
}

// How badly a later step fits the branch that it was inverted on: by the Q_e that is known and by
// its emitted power.
static double misfit(const cavum_inverted *inverted, const cavum_dual *external) {
  double sum = 0.0;
  if (external && inverted->has[CAVUM_QUANTITY_Q_EXTERNAL]) {
    cavum_dual off = cavum_dual_subtract(&inverted->result[CAVUM_QUANTITY_Q_EXTERNAL], external);
    sum += square_distance(&off);
  }
  if (inverted->has_mismatch) sum += square_distance(&inverted->mismatch);
  return sum;
}

// Close to critical coupling the sign of one difference decides little: the step is inverted on
// both branches and keeps the one that fits better.
static void compare_branches(cavum_inverted *inverted, const cavum_inversion_context *context,
                             const cavum_calibrated *calibrated, const cavum_reading_place *place) {
  cavum_inverted other;
  cavum_inversion_context opposite = *context;
  opposite.forced = inverted->branch == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
  if (cavum_coldtest_invert_pickup(&other, &opposite, calibrated, place, NULL) != CAVUM_OK) {
    return;
  }
  double difference = misfit(&other, context->q_external) - misfit(inverted, context->q_external);
  if (difference < 0.0) *inverted = other;
  inverted->branch_distance = sqrt(fabs(difference));
}

static cavum_status check_pickup(const cavum_coldtest *test,
                                 const cavum_coldtest_calibrations *calibrations,
                                 const cavum_reading_place *place, cavum_error *error) {
  char where[300];
  bool by_decay = test->setup.q0_method == CAVUM_Q0_DECAY;
  if (!by_decay && calibrations->has_pickup) return CAVUM_OK;
  cavum_reading_place_text(where, place);
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no decay time, %s", where,
                    by_decay ? "which the method decay needs"
                             : "and no Q_t for the pickup: state one, or give a reading with decay "
                               "time and transmitted power");
}

static cavum_status invert_by_pickup(cavum_inverted *inverted, const cavum_coldtest *test,
                                     const cavum_coldtest_calibrations *calibrations, int64_t index,
                                     cavum_branch forced, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(check_pickup(test, calibrations, &place, error));
  cavum_inversion_context context = {
      .forced = forced,
      .setup = &test->setup,
      .inputs = &test->inputs,
      .q_pickup = &calibrations->q_pickup,
      .q_external = calibrations->has_external ? &calibrations->q_external : NULL};
  CAVUM_TRY(cavum_coldtest_invert_pickup(inverted, &context, &calibrated, &place, error));
  if (inverted->branch_distance < CAVUM_BRANCH_CERTAIN) {
    compare_branches(inverted, &context, &calibrated, &place);
  }
done:
  return status;
}

cavum_status cavum_coldtest_invert_with(cavum_inverted *inverted, const cavum_coldtest *test,
                                        const cavum_coldtest_calibrations *calibrations,
                                        int64_t index, cavum_branch forced, cavum_error *error) {
  if (cavum_coldtest_reading_by_decay(&test->setup, &test->readings.items[index])) {
    const cavum_dual *expected =
        calibrations->assumed != CAVUM_BRANCH_DECIDE ? &calibrations->q_external : NULL;
    return cavum_coldtest_invert_by_decay(inverted, test, calibrations, expected, index, error);
  }
  return invert_by_pickup(inverted, test, calibrations, index, forced, error);
}

void cavum_coldtest_widen(cavum_dual *number, const cavum_dual *other, double coverage_factor) {
  double difference = other->value - number->value;
  if (difference == 0.0) return;
  number->part[CAVUM_INPUT_BRANCH] = 0.0;
  double own = cavum_dual_uncertainty(number);
  double wanted =
      fabs(difference) / coverage_factor + cavum_max(own, cavum_dual_uncertainty(other));
  number->part[CAVUM_INPUT_BRANCH] = copysign(sqrt(wanted * wanted - own * own), difference);
}

static void widen_all(cavum_inverted *inverted, const cavum_inverted *other, double coverage) {
  double factor = cavum_coldtest_coverage_factor(coverage);
  bool differ = false;
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    if (!inverted->has[i] || !other->has[i]) continue;
    differ = differ || inverted->result[i].value != other->result[i].value;
    cavum_coldtest_widen(&inverted->result[i], &other->result[i], factor);
  }
  if (differ) inverted->flags |= 1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS;
}

cavum_status cavum_coldtest_invert_reading(cavum_inverted *inverted, const cavum_coldtest *test,
                                           int64_t index, cavum_error *error) {
  cavum_inverted other;
  cavum_status status =
      cavum_coldtest_invert_with(inverted, test, &test->main, index, CAVUM_BRANCH_DECIDE, error);
  if (status != CAVUM_OK) return status;
  cavum_status second = CAVUM_ERR_INPUT;
  if (test->branch_open) {
    second =
        cavum_coldtest_invert_with(&other, test, &test->other, index, CAVUM_BRANCH_DECIDE, NULL);
  } else if (inverted->branch_distance < CAVUM_BRANCH_DECIDED &&
             !cavum_coldtest_reading_by_decay(&test->setup, &test->readings.items[index])) {
    cavum_branch opposite =
        inverted->branch == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
    second = cavum_coldtest_invert_with(&other, test, &test->main, index, opposite, NULL);
  }
  // A second way that no cavity can give leaves the first.
  if (second == CAVUM_OK) widen_all(inverted, &other, test->setup.coverage);
  return CAVUM_OK;
}
