// SPDX-License-Identifier: GPL-3.0-or-later
// One reading of a test to its results, with the calibrations of the test: decay or pickup.
#include "coldtest/coldtest_private.h"

bool cavum_coldtest_reading_by_decay(const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_reading *reading) {
  return setup->q0_method != CAVUM_Q0_PICKUP && !isnan(reading->decay_time_s);
}

static cavum_reading_place place_of(const cavum_coldtest *test, int64_t index) {
  return (cavum_reading_place){test->readings.file, index, test->readings.items[index].line};
}

cavum_status cavum_coldtest_invert_by_decay(cavum_inverted *inverted, const cavum_coldtest *test,
                                            int64_t index, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  // Only a stated Q_e may decide the branch here: the readings are about to give one.
  cavum_inversion_context context = {&test->setup, &test->inputs, NULL,
                                     test->setup.q_external.value > 0.0 ? &test->q_external : NULL};
  CAVUM_TRY(cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs,
                                     &test->readings.items[index], &place, error));
  CAVUM_TRY(cavum_coldtest_invert_decay(inverted, &context, &calibrated, &place, error));
done:
  return status;
}

cavum_status cavum_coldtest_invert_reading(cavum_inverted *inverted, const cavum_coldtest *test,
                                           int64_t index, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_calibrated calibrated;
  cavum_reading_place place = place_of(test, index);
  char where[300];
  const cavum_coldtest_reading *reading = &test->readings.items[index];
  if (cavum_coldtest_reading_by_decay(&test->setup, reading)) {
    return cavum_coldtest_invert_by_decay(inverted, test, index, error);
  }
  CAVUM_TRY(
      cavum_coldtest_calibrate(&calibrated, &test->setup, &test->inputs, reading, &place, error));
  cavum_reading_place_text(where, &place);
  if (test->setup.q0_method == CAVUM_Q0_DECAY) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no decay time, which the method decay needs",
                      where);
  }
  if (!test->has_pickup) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: no decay time, and no Q_t for the pickup: state one, or give a reading "
                      "with decay time and transmitted power",
                      where);
  }
  cavum_inversion_context context = {&test->setup, &test->inputs, &test->q_pickup,
                                     test->has_external ? &test->q_external : NULL};
  CAVUM_TRY(cavum_coldtest_invert_pickup(inverted, &context, &calibrated, &place, error));
done:
  return status;
}
