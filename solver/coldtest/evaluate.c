// SPDX-License-Identifier: GPL-3.0-or-later
// A whole test: calibrations from the readings with a decay time, then every reading to its point.
//
// Invariant: a point is what cavum_coldtest_invert_reading() gives for its reading, so a budget
// made later belongs to the number printed.
#include <string.h>

#include "base/stop.h"
#include "coldtest/constancy.h"
#include "coldtest/setup.h"

// Mark of a reading without a point while points are made; no point has all flags.
static const uint32_t NOT_A_POINT = UINT32_MAX;

// The variances of all results side by side: each sum is taken in the order of its inputs, as in
// cavum_dual_uncertainty(), but one does not wait for another.
static void set_uncertainties(cavum_coldtest_point *point, const cavum_inverted *inverted) {
  double sum[CAVUM_NUM_QUANTITIES] = {0.0};
  for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
    for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
      double part = inverted->has[i] ? inverted->result[i].part[k] : NAN;
      sum[i] += part * part;
    }
  }
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    point->value[i] = inverted->has[i] ? inverted->result[i].value : NAN;
    point->uncertainty[i] = inverted->has[i] ? sqrt(sum[i]) : NAN;
  }
}

static void set_point(cavum_coldtest_point *point, const cavum_inverted *inverted, bool by_decay) {
  set_uncertainties(point, inverted);
  double product = point->uncertainty[CAVUM_QUANTITY_Q0] * point->uncertainty[CAVUM_QUANTITY_E_ACC];
  double covariance = cavum_dual_covariance(&inverted->result[CAVUM_QUANTITY_Q0],
                                            &inverted->result[CAVUM_QUANTITY_E_ACC]);
  point->correlation = product > 0.0 ? covariance / product : 0.0;
  point->by_decay = by_decay;
  point->branch = inverted->branch;
  point->method = inverted->method;
  point->flags = inverted->flags;
}

// Without the text of the file, which no point needs.
static cavum_status copy_readings(cavum_coldtest_readings *copy,
                                  const cavum_coldtest_readings *readings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = readings->num_readings;
  *copy = *readings;
  copy->num_set_aside = 0;
  copy->set_aside = NULL;
  copy->text = NULL;
  copy->notes = NULL;
  copy->items = cavum_alloc(count, sizeof *copy->items);
  if (!copy->items) return cavum_fail_memory(error);
  memcpy(copy->items, readings->items, (size_t)count * sizeof *readings->items);
  if (readings->notes) {
    copy->notes = cavum_alloc(readings->notes_size, 1);
    if (!copy->notes) return cavum_fail_memory(error);
    memcpy(copy->notes, readings->notes, (size_t)readings->notes_size);
  }
  for (int64_t i = 0; i < readings->num_set_aside; i++) {
    const cavum_coldtest_set_aside *row = &readings->set_aside[i];
    CAVUM_TRY(cavum_coldtest_set_row_aside(copy, row->line, row->reason, error));
  }
done:
  return status;
}

// Points of all readings; those that have none are set aside and taken from the readings.
static cavum_status make_points(cavum_coldtest *test, bool *complete, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_coldtest_readings *readings = &test->readings;
  int64_t kept = 0, count = readings->num_readings;
  for (int64_t i = 0; i < count; i++) {
    cavum_inverted inverted;
    cavum_error fault = {0};
    if (cavum_stop_asked_at(i)) CAVUM_TRY(cavum_stop_check(error));
    status = cavum_coldtest_invert_reading(&inverted, test, i, &fault);
    if (status != CAVUM_OK && status != CAVUM_ERR_INPUT) {
      if (error) *error = fault;
      return status;
    }
    // Only after the last inversion: until then the calibrations know the readings by their number.
    test->points[i].by_decay = cavum_coldtest_reading_by_decay(&test->setup, &readings->items[i]);
    test->points[i].flags = NOT_A_POINT;
    if (status == CAVUM_OK) {
      set_point(&test->points[i], &inverted, test->points[i].by_decay);
    } else {
      CAVUM_TRY(
          cavum_coldtest_set_row_aside(readings, readings->items[i].line, fault.message, error));
    }
  }
  status = CAVUM_OK;
  for (int64_t i = 0; i < count; i++) {
    if (test->points[i].flags == NOT_A_POINT) continue;
    readings->items[kept] = readings->items[i];
    test->points[kept++] = test->points[i];
  }
  *complete = kept == count;
  readings->num_readings = kept;
done:
  return status;
}

// The row that fails may lack a calibration, which one of those before it would have given.
static cavum_status fail_no_row(const cavum_coldtest *test, int64_t given_aside,
                                cavum_error *error) {
  const cavum_coldtest_set_aside *rows = test->readings.set_aside;
  cavum_status status = given_aside > 0
                            ? cavum_fail(error, CAVUM_ERR_INPUT, "%s; set aside before: %s",
                                         rows[given_aside].reason, rows[0].reason)
                            : cavum_fail(error, CAVUM_ERR_INPUT, "%s", rows[given_aside].reason);
  cavum_coldtest_explain_rows(error, &test->setup);
  return status;
}

// Calibrations and points, again without the readings that turned out to be none: they must not be
// behind a calibration either.
static cavum_status evaluate_all(cavum_coldtest *test, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t given_aside = test->readings.num_set_aside;
  for (bool complete = false; !complete;) {
    test->num_remarks = 0;
    cavum_coldtest_calibrations_clear(&test->main);
    cavum_decided_branches_clear(&test->decided);
    CAVUM_TRY(cavum_coldtest_decide_branch(test, error));
    CAVUM_TRY(make_points(test, &complete, error));
    if (test->readings.num_readings == 0) {
      status = fail_no_row(test, given_aside, error);
      goto done;
    }
  }
done:
  return status;
}

static cavum_status fail_no_readings(const cavum_coldtest_readings *r, cavum_error *error) {
  bool named = r->file[0] != '\0';
  if (r->num_readings < 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "readings: num_readings is %lld, expected 1 or more",
                      (long long)r->num_readings);
  }
  return cavum_fail(error, CAVUM_ERR_INPUT, "%s%sno readings", named ? r->file : "",
                    named ? ": " : "");
}

// What a program filled in.
static cavum_status check_readings(const cavum_coldtest_readings *r, cavum_error *error) {
  if (!r->items || r->num_set_aside < 0 || (r->num_set_aside > 0 && !r->set_aside) ||
      (r->notes && r->notes_size < 0)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "readings: items and rows set aside: expected as many as their numbers say");
  }
  if (r->num_runs < 0 || r->num_runs > CAVUM_MAX_RUNS) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "readings: num_runs is %d, expected 0 to %d",
                      (int)r->num_runs, (int)CAVUM_MAX_RUNS);
  }
  for (int64_t i = 0; i < r->num_readings; i++) {
    int branch = (int)r->items[i].branch;
    if (branch < 0 || branch > (int)CAVUM_BRANCH_UNDER) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "reading %lld: branch is %d, expected 0 to %d",
                        (long long)i + 1, branch, (int)CAVUM_BRANCH_UNDER);
    }
    if (!(r->items[i].bath_temperature_k <= 0.0)) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "reading %lld: bath_temperature_k is %g, expected a number above 0, or NAN",
                      (long long)i + 1, r->items[i].bath_temperature_k);
  }
  return CAVUM_OK;
}

cavum_status cavum_coldtest_evaluate(cavum_coldtest **test, const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_readings *readings, cavum_error *error) {
  if (!test || !setup || !readings) return cavum_fail_null(error, __func__);
  cavum_coldtest_readings copy = {0};
  cavum_status status = CAVUM_OK;
  if (readings->num_readings < 1) {
    return fail_no_readings(readings, error);
  }
  CAVUM_TRY(check_readings(readings, error));
  status = copy_readings(&copy, readings, error);
  if (status == CAVUM_OK) status = cavum_coldtest_evaluate_taken(test, setup, &copy, error);
done:
  cavum_coldtest_readings_clear(&copy);
  return status;
}

cavum_status cavum_coldtest_evaluate_taken(cavum_coldtest **test, const cavum_coldtest_setup *setup,
                                           cavum_coldtest_readings *readings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_coldtest *made = NULL;
  if (readings->num_readings < 1) {
    return fail_no_readings(readings, error);
  }
  made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_coldtest_setup_take(&made->setup, setup, error));
  CAVUM_TRY(cavum_coldtest_make_inputs(&made->inputs, &made->setup, error));
  made->points = cavum_alloc(readings->num_readings, sizeof *made->points);
  if (!made->points) {
    status = cavum_fail_memory(error);
    goto done;
  }
  made->readings = *readings;
  *readings = (cavum_coldtest_readings){0};
  CAVUM_TRY(evaluate_all(made, error));
  cavum_coldtest_remark_on(made);
  CAVUM_TRY(cavum_coldtest_remark_on_constancy(made, error));
  *test = made;
  made = NULL;
done:
  cavum_coldtest_destroy(&made);
  return status;
}

void cavum_coldtest_destroy(cavum_coldtest **test) {
  if (!test || !*test) return;
  cavum_coldtest_readings_clear(&(*test)->readings);
  free((*test)->points);
  cavum_coldtest_calibrations_clear(&(*test)->main);
  cavum_decided_branches_clear(&(*test)->decided);
  free(*test);
  *test = NULL;
}
