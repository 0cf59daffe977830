// SPDX-License-Identifier: GPL-3.0-or-later
// A whole test: calibrations from the readings with a decay time, then every reading to its point.
//
// Invariant: a point is what cavum_coldtest_invert_reading() gives for its reading, so a budget
// made later belongs to the number printed.
#include <string.h>

#include "coldtest/coldtest_private.h"

static void set_point(cavum_coldtest_point *point, const cavum_inverted *inverted, bool by_decay) {
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    point->value[i] = inverted->has[i] ? inverted->result[i].value : NAN;
    point->uncertainty[i] = inverted->has[i] ? cavum_dual_uncertainty(&inverted->result[i]) : NAN;
  }
  double product = point->uncertainty[CAVUM_QUANTITY_Q0] * point->uncertainty[CAVUM_QUANTITY_E_ACC];
  double covariance = cavum_dual_covariance(&inverted->result[CAVUM_QUANTITY_Q0],
                                            &inverted->result[CAVUM_QUANTITY_E_ACC]);
  point->correlation = product > 0.0 ? covariance / product : 0.0;
  point->by_decay = by_decay;
  point->branch = inverted->branch;
  point->method = inverted->method;
  memcpy(point->coupling_by, inverted->coupling_by, sizeof point->coupling_by);
  memcpy(point->coupling_by_uncertainty, inverted->coupling_by_uncertainty,
         sizeof point->coupling_by_uncertainty);
  point->disagreement = inverted->disagreement;
  for (int side = 0; side < 2; side++) {
    point->q0_bounds[side] = inverted->bounds[0][side];
    point->e_acc_bounds_v_per_m[side] = inverted->bounds[1][side];
  }
  point->flags = inverted->flags;
}

static cavum_status copy_readings(cavum_coldtest *test, const cavum_coldtest_readings *readings,
                                  cavum_error *error) {
  int64_t count = readings->num_readings;
  test->readings = *readings;
  test->readings.items = cavum_alloc(count, sizeof *test->readings.items);
  test->points = cavum_alloc(count, sizeof *test->points);
  if (!test->readings.items || !test->points) return cavum_fail_memory(error);
  memcpy(test->readings.items, readings->items, (size_t)count * sizeof *readings->items);
  return CAVUM_OK;
}

cavum_status cavum_coldtest_evaluate(cavum_coldtest **test, const cavum_coldtest_setup *setup,
                                     const cavum_coldtest_readings *readings, cavum_error *error) {
  if (!test || !setup || !readings) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_coldtest *made = NULL;
  if (readings->num_readings < 1) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no readings", readings->file);
  }
  made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->setup = *setup;
  CAVUM_TRY(cavum_coldtest_make_inputs(&made->inputs, setup, error));
  CAVUM_TRY(copy_readings(made, readings, error));
  CAVUM_TRY(cavum_coldtest_decide_branch(made, error));
  for (int64_t i = 0; i < readings->num_readings; i++) {
    cavum_inverted inverted;
    CAVUM_TRY(cavum_coldtest_invert_reading(&inverted, made, i, error));
    set_point(&made->points[i], &inverted,
              cavum_coldtest_reading_by_decay(setup, &readings->items[i]));
  }
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
  cavum_coldtest_calibrations_clear(&(*test)->other);
  free(*test);
  *test = NULL;
}
