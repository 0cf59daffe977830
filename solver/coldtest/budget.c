// SPDX-License-Identifier: GPL-3.0-or-later
// What an evaluated test tells: points, calibrations, budgets and covariances.
#include <string.h>

#include "coldtest/coldtest_private.h"

int64_t cavum_coldtest_num_points(const cavum_coldtest *test) {
  return test ? test->readings.num_readings : 0;
}

const cavum_coldtest_point *cavum_coldtest_get_point(const cavum_coldtest *test, int64_t index) {
  if (!test || index < 0 || index >= test->readings.num_readings) return NULL;
  return &test->points[index];
}

const cavum_coldtest_reading *cavum_coldtest_get_reading(const cavum_coldtest *test,
                                                         int64_t index) {
  if (!test || index < 0 || index >= test->readings.num_readings) return NULL;
  return &test->readings.items[index];
}

int64_t cavum_coldtest_num_set_aside(const cavum_coldtest *test) {
  return test ? test->readings.num_set_aside : 0;
}

const cavum_coldtest_set_aside *cavum_coldtest_get_set_aside(const cavum_coldtest *test,
                                                             int64_t index) {
  if (!test || index < 0 || index >= test->readings.num_set_aside) return NULL;
  return &test->readings.set_aside[index];
}

const char *cavum_coldtest_get_note(const cavum_coldtest *test, int64_t index) {
  const cavum_coldtest_reading *reading = cavum_coldtest_get_reading(test, index);
  if (!reading || !test->readings.notes) return "";
  bool has = reading->note > 0 && reading->note < test->readings.notes_size;
  return has ? test->readings.notes + reading->note : "";
}

int cavum_coldtest_num_remarks(const cavum_coldtest *test) { return test ? test->num_remarks : 0; }

const char *cavum_coldtest_get_remark(const cavum_coldtest *test, int index) {
  if (!test || index < 0 || index >= test->num_remarks) return NULL;
  return test->remarks[index];
}

const cavum_coldtest_setup *cavum_coldtest_get_setup(const cavum_coldtest *test) {
  return test ? &test->setup : NULL;
}

cavum_coldtest_calibration cavum_coldtest_get_pickup(const cavum_coldtest *test) {
  return test ? test->main.pickup : (cavum_coldtest_calibration){0};
}

cavum_coldtest_calibration cavum_coldtest_get_external(const cavum_coldtest *test) {
  return test ? test->main.external : (cavum_coldtest_calibration){0};
}

static cavum_status invert_point(cavum_inverted *inverted, const cavum_coldtest *test,
                                 int64_t index, cavum_error *error) {
  if (index < 0 || index >= test->readings.num_readings) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "reading %lld of a test of %lld", (long long)index,
                      (long long)test->readings.num_readings);
  }
  return cavum_coldtest_invert_reading(inverted, test, index, error);
}

cavum_status cavum_coldtest_check_point(cavum_coldtest_checks *checks, const cavum_coldtest *test,
                                        int64_t index, cavum_error *error) {
  if (!checks || !test) return cavum_fail_null(error, __func__);
  cavum_inverted inverted;
  cavum_status status = invert_point(&inverted, test, index, error);
  if (status != CAVUM_OK) return status;
  memcpy(checks->coupling_by, inverted.coupling_by, sizeof checks->coupling_by);
  memcpy(checks->coupling_by_uncertainty, inverted.coupling_by_uncertainty,
         sizeof checks->coupling_by_uncertainty);
  checks->disagreement = inverted.disagreement;
  memcpy(checks->q0_bounds, inverted.bounds[0], sizeof checks->q0_bounds);
  memcpy(checks->e_acc_bounds_v_per_m, inverted.bounds[1], sizeof checks->e_acc_bounds_v_per_m);
  return CAVUM_OK;
}

static cavum_status get_result(cavum_dual *result, const cavum_coldtest *test, int64_t index,
                               cavum_coldtest_quantity quantity, cavum_error *error) {
  if ((int)quantity < 0 || quantity >= CAVUM_NUM_QUANTITIES) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "quantity %d of a cold test is unknown",
                      (int)quantity);
  }
  cavum_inverted inverted;
  cavum_status status = invert_point(&inverted, test, index, error);
  if (status != CAVUM_OK) return status;
  if (!inverted.has[quantity]) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "reading %lld has no %s", (long long)index + 1,
                      cavum_coldtest_describe_quantity(quantity).long_name);
  }
  *result = inverted.result[quantity];
  return CAVUM_OK;
}

static void fill_budget(cavum_coldtest_budget *budget, const cavum_dual *result) {
  budget->value = result->value;
  budget->uncertainty = cavum_dual_uncertainty(result);
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) budget->contribution[i] = result->part[i];
}

cavum_status cavum_coldtest_make_budget(cavum_coldtest_budget *budget, const cavum_coldtest *test,
                                        int64_t index, cavum_coldtest_quantity quantity,
                                        cavum_error *error) {
  if (!budget || !test) return cavum_fail_null(error, __func__);
  cavum_dual result;
  cavum_status status = get_result(&result, test, index, quantity, error);
  if (status != CAVUM_OK) return status;
  fill_budget(budget, &result);
  return CAVUM_OK;
}

cavum_status cavum_coldtest_make_calibration_budget(cavum_coldtest_budget *budget,
                                                    const cavum_coldtest *test,
                                                    cavum_coldtest_quantity quantity,
                                                    cavum_error *error) {
  if (!budget || !test) return cavum_fail_null(error, __func__);
  bool pickup = quantity == CAVUM_QUANTITY_Q_PICKUP;
  if (!pickup && quantity != CAVUM_QUANTITY_Q_EXTERNAL) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "quantity %d is no calibration of a cold test",
                      (int)quantity);
  }
  cavum_dual number = cavum_coldtest_mixed_calibration(test, pickup);
  if (!(number.value > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the test has no %s",
                      cavum_coldtest_describe_quantity(quantity).long_name);
  }
  fill_budget(budget, &number);
  return CAVUM_OK;
}

cavum_status cavum_coldtest_covariance(double *covariance, const cavum_coldtest *test,
                                       int64_t first, cavum_coldtest_quantity of_first,
                                       int64_t second, cavum_coldtest_quantity of_second,
                                       cavum_error *error) {
  if (!covariance || !test) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_dual x, y;
  CAVUM_TRY(get_result(&x, test, first, of_first, error));
  CAVUM_TRY(get_result(&y, test, second, of_second, error));
  double sum = 0.0;
  int shared = first == second ? CAVUM_NUM_INPUTS : CAVUM_FIRST_LOCAL_INPUT;
  for (int i = 0; i < shared; i++) sum += x.part[i] * y.part[i];
  *covariance = sum;
done:
  return status;
}
