// SPDX-License-Identifier: GPL-3.0-or-later
// A plan in meter units: what the meters show, the way back through the evaluation, what
// uncertainty to expect, limits.
#include <string.h>

#include "cavum/cavum.h"
#include "scenario.h"
#include "support.h"

static const cavum_plan_request REQUEST = {
    sizeof(cavum_plan_request), 1.3e9, 10e6, 2e10, 1e10, 2e12};

static void set_chain(cavum_coldtest_setup *setup) {
  setup->channels[CAVUM_CHANNEL_FORWARD].attenuation_db = 40.2;
  setup->channels[CAVUM_CHANNEL_REFLECTED].attenuation_db = 40.65;
  setup->channels[CAVUM_CHANNEL_TRANSMITTED].attenuation_db = 12.4;
  setup->channels[CAVUM_CHANNEL_FORWARD].zero_w = 2e-7;
  setup->input_line_loss_db = 0.35;
}

// By hand: the coupler sees the forward wave before the line's loss, the other two after it; the
// emitted wave goes through the chain of the reflected one, the zero is added by the meter.
START_TEST(meters_show_ports_through_the_chain) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan plan;
  set_chain(&setup);
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &REQUEST, NULL), CAVUM_OK);
  const struct {
    int channel;
    double decibels, zero_w;
  } rows[] = {{CAVUM_CHANNEL_FORWARD, 40.2 - 0.35, 2e-7},
              {CAVUM_CHANNEL_REFLECTED, 40.65 + 0.35, 0.0},
              {CAVUM_CHANNEL_TRANSMITTED, 12.4, 0.0},
              {CAVUM_CHANNEL_EMITTED, 40.65 + 0.35, 0.0}};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double expected_w =
        plan.state.power_w[rows[i].channel] / pow(10.0, rows[i].decibels / 10.0) + rows[i].zero_w;
    CAVUM_CHECK_RELATIVE(plan.meter_w[rows[i].channel], expected_w, 1e-12);
  }
}
END_TEST

// The readings that a plan foretells give the gradient and Q0 that it was made for, by the decay
// time and by the pickup, on both sides of critical coupling; 1e-9 is rounding near beta* = 1.
START_TEST(planned_readings_give_the_plan_back) {
  static const double couplers[] = {2e9, 1e10, 1.9e10, 5e10};
  cavum_coldtest_setup setup = scenario_setup();
  set_chain(&setup);
  for (size_t i = 0; i < sizeof couplers / sizeof *couplers; i++) {
    cavum_plan_request request = REQUEST;
    cavum_plan plan;
    request.q_external = couplers[i];
    ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
    cavum_coldtest_reading items[2] = {cavum_coldtest_reading_empty(),
                                       cavum_coldtest_reading_empty()};
    for (int k = 0; k < 2; k++) {
      memcpy(items[k].power_w, plan.meter_w, sizeof plan.meter_w);
      items[k].frequency_hz = request.frequency_hz;
    }
    items[0].decay_time_s = plan.state.decay_time_s;
    items[1].power_w[CAVUM_CHANNEL_EMITTED] = NAN;
    cavum_coldtest *test = scenario_evaluate(&setup, items, 2);
    for (int k = 0; k < 2; k++) {
      const double *value = cavum_coldtest_get_point(test, k)->value;
      CAVUM_CHECK_RELATIVE(value[CAVUM_QUANTITY_Q0], request.q0, 1e-9);
      CAVUM_CHECK_RELATIVE(value[CAVUM_QUANTITY_E_ACC], request.e_acc_v_per_m, 1e-9);
    }
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

// The least forward power is that of the coupler which matches the wall and a pickup that takes a
// tenth of its loss: 1/Q_e = 1/Q0 + 1/Q_t, nothing is reflected, and what goes in is lost in both.
START_TEST(a_matched_coupler_feeds_wall_and_pickup) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan_request request = REQUEST;
  cavum_plan plan, matched;
  request.q_pickup = 10.0 * request.q0;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
  request.q_external = 1.0 / (1.0 / request.q0 + 1.0 / request.q_pickup);
  // A reading that reflects exactly nothing is not evaluated; so near, P_r is 1e-8 of P_f.
  request.q_external *= 1.0 + 2e-4;
  ck_assert_int_eq(cavum_coldtest_make_plan(&matched, &setup, &request, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(plan.matched_forward_w, 1.1 * plan.state.wall_power_w, 1e-14);
  CAVUM_CHECK_RELATIVE(plan.matched_forward_w, matched.state.power_w[CAVUM_CHANNEL_FORWARD], 2e-8);
  ck_assert(plan.state.power_w[CAVUM_CHANNEL_FORWARD] > plan.matched_forward_w);
}
END_TEST

START_TEST(missing_pickup_is_not_zero_watts) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan_request request = REQUEST;
  cavum_plan plan;
  request.q_pickup = INFINITY;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
  ck_assert(isnan(plan.state.power_w[CAVUM_CHANNEL_TRANSMITTED]));
  ck_assert(isnan(plan.meter_w[CAVUM_CHANNEL_TRANSMITTED]));
  ck_assert(plan.by_decay.possible && !plan.by_pickup.possible);
}
END_TEST

// Q0 = Q_L (1 + beta_e + beta_t) is proportional to the decay time: 1 % of it is 1 % of Q0 and,
// U being proportional to tau too, 0.5 % of E_acc. Q0 = Q_t P_t / P_d: 2 % of a stated Q_t is 2 %,
// and 1 % of E_acc.
START_TEST(largest_input_is_named) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan plan;
  setup.decay_uncertainty = 0.01;
  setup.q_pickup = (cavum_estimate){.value = 1e12, .uncertainty = 2e10};
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &REQUEST, NULL), CAVUM_OK);
  ck_assert(plan.by_decay.possible && plan.by_pickup.possible);
  ck_assert_int_eq(plan.by_decay.q0_input, CAVUM_INPUT_DECAY);
  CAVUM_CHECK_RELATIVE(plan.by_decay.q0_relative, 0.01, 1e-9);
  CAVUM_CHECK_RELATIVE(plan.by_decay.e_acc_relative, 0.005, 1e-9);
  CAVUM_CHECK_RELATIVE(plan.by_decay.q0_share, 1.0, 1e-9);
  ck_assert_int_eq(plan.by_pickup.q0_input, CAVUM_INPUT_PICKUP);
  CAVUM_CHECK_RELATIVE(plan.by_pickup.q0_relative, 0.02, 1e-9);
  CAVUM_CHECK_RELATIVE(plan.by_pickup.e_acc_relative, 0.01, 1e-9);
}
END_TEST

START_TEST(limits_are_compared) {
  static const struct {
    cavum_coldtest_quantity quantity;
    double limit;
  } rows[] = {{CAVUM_QUANTITY_B_PEAK, 21.3e-3},  // The cell has 42.6 mT at 10 MV/m.
              {CAVUM_QUANTITY_E_ACC, 40e6},
              {CAVUM_QUANTITY_FORWARD, 0.716939},  // As in the plan of the three-case cavity.
              {CAVUM_QUANTITY_Q0, 1e10}};          // No limit of a plan.
  static const double shares[] = {2.0, 0.25, 1.0, NAN};
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan plan;
  setup.num_limits = 4;
  for (int i = 0; i < 4; i++) {
    setup.limits[i] = (cavum_coldtest_limit){"a", "b", rows[i].quantity, rows[i].limit};
  }
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &REQUEST, NULL), CAVUM_OK);
  for (int i = 0; i < 3; i++) CAVUM_CHECK_RELATIVE(plan.limit_share[i], shares[i], 1e-6);
  for (int i = 3; i < CAVUM_MAX_LIMITS; i++) ck_assert(isnan(plan.limit_share[i]));
}
END_TEST

// Exactly matched: nothing is reflected, and sqrt(P_r) = 0 would be known exactly.
START_TEST(critical_coupling_is_said_and_no_failure) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_plan_request request = {sizeof(cavum_plan_request), 1.3e9, 10e6, 1e10, 1e10, INFINITY};
  cavum_plan plan;
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
  ck_assert(!plan.by_decay.possible);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, meters_show_ports_through_the_chain);
  tcase_add_test(tests, planned_readings_give_the_plan_back);
  tcase_add_test(tests, a_matched_coupler_feeds_wall_and_pickup);
  tcase_add_test(tests, missing_pickup_is_not_zero_watts);
  tcase_add_test(tests, largest_input_is_named);
  tcase_add_test(tests, limits_are_compared);
  tcase_add_test(tests, critical_coupling_is_said_and_no_failure);
}

CAVUM_TEST_MAIN("plans", add_tests)
