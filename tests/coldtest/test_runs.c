// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of a test and the static heat of its bath: names, ratios with what is shared cancelled,
// heat.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cavum/cavum.h"
#include "scenario.h"
#include "support.h"
#include "temporary_folder.h"

enum { ROWS = 7 };

static const double Q_EXTERNAL = 1e10, Q_PICKUP = 2e12, FREQUENCY_HZ = 1.3e9;

// A reading of the circuit, exact.
static cavum_coldtest_reading make_reading(const cavum_coldtest_setup *setup, double e_acc,
                                           double q0, bool decay, int run) {
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  cavum_circuit circuit = {FREQUENCY_HZ, q0, Q_EXTERNAL, Q_PICKUP, {0}};
  cavum_circuit_state state;
  double voltage = e_acc * setup->accelerating_length_m.value;
  double energy = voltage * voltage /
                  (2.0 * 3.14159265358979323846 * FREQUENCY_HZ * setup->r_over_q_linac_ohm.value);
  ck_assert_int_eq(cavum_circuit_drive(&state, &circuit, energy, NULL), CAVUM_OK);
  for (int i = 0; i < CAVUM_CHANNEL_EXTRA; i++) reading.power_w[i] = state.power_w[i];
  if (!decay) reading.power_w[CAVUM_CHANNEL_EMITTED] = NAN;
  if (decay) reading.decay_time_s = state.decay_time_s;
  reading.frequency_hz = FREQUENCY_HZ;
  reading.bath_temperature_k = 2.0;
  reading.run = run;
  return reading;
}

static cavum_coldtest *evaluate(const cavum_coldtest_setup *setup) {
  cavum_coldtest_reading items[ROWS] = {
      make_reading(setup, 4e6, 2.0e10, true, 1),     make_reading(setup, 10e6, 2.0e10, false, 1),
      make_reading(setup, 20e6, 1.8e10, false, 1),   make_reading(setup, 10.2e6, 1.5e10, false, 2),
      make_reading(setup, 20.4e6, 1.2e10, false, 2), make_reading(setup, 24.0e6, 1.0e10, false, 2),
      make_reading(setup, 30e6, 1.0e10, false, 3)};
  cavum_coldtest_readings readings = {.num_readings = ROWS,
                                      .items = items,
                                      .file = "runs",
                                      .num_runs = 3,
                                      .runs = {"cool-down", "after the quench", "alone"}};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  ck_assert_msg(cavum_coldtest_evaluate(&test, setup, &readings, &error) == CAVUM_OK, "%s",
                error.message);
  return test;
}

// A time base that is off moves Q_t and every Q0 alike: nothing of it is left in their ratio; the
// noise of the readings is.
START_TEST(what_runs_share_leaves_their_ratio) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.decay_uncertainty = 0.03;
  cavum_coldtest_run_summary run;
  cavum_coldtest *test = evaluate(&setup);
  ck_assert_int_eq(cavum_coldtest_num_runs(test), 3);
  ck_assert_str_eq(cavum_coldtest_get_run_name(test, 2), "after the quench");
  ck_assert_str_eq(cavum_coldtest_get_run_name(test, 4), "");
  ck_assert_int_eq(cavum_coldtest_summarise_run(&run, test, 2, NULL), CAVUM_OK);
  ck_assert_int_eq(run.num_points, 3);
  ck_assert_int_eq(run.first_point, 3);
  CAVUM_CHECK_RELATIVE(run.lowest_e_acc_v_per_m, 10.2e6, 1e-9);
  CAVUM_CHECK_RELATIVE(run.highest_e_acc_v_per_m, 24e6, 1e-9);
  // At 20.4 MV/m, which is 2 % from 20; 24 MV/m has no partner.
  CAVUM_CHECK_RELATIVE(run.ratio_e_acc_v_per_m, 20.4e6, 1e-9);
  CAVUM_CHECK_RELATIVE(run.q0_ratio.value, 1.2 / 1.8, 1e-9);
  double shared = run.q0_ratio.uncertainty / run.q0_ratio.value;
  double single = cavum_coldtest_get_point(test, 4)->uncertainty[CAVUM_QUANTITY_Q0] / 1.2e10;
  ck_assert_double_gt(single, 0.02);
  ck_assert_double_lt(shared, 0.01 * single);
  cavum_coldtest_destroy(&test);
  // 1 % of each power: of forward and transmitted in both readings, at least.
  for (int i = 0; i < CAVUM_CHANNEL_EXTRA; i++) setup.channels[i].noise = 0.01;
  test = evaluate(&setup);
  ck_assert_int_eq(cavum_coldtest_summarise_run(&run, test, 2, NULL), CAVUM_OK);
  ck_assert_double_gt(run.q0_ratio.uncertainty / run.q0_ratio.value, 0.019);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(runs_that_do_not_compare_have_no_ratio) {
  cavum_coldtest_setup setup = scenario_setup();
  cavum_coldtest_run_summary run;
  cavum_error error = {0};
  cavum_coldtest *test = evaluate(&setup);
  ck_assert_int_eq(cavum_coldtest_summarise_run(&run, test, 3, NULL), CAVUM_OK);
  ck_assert(isnan(run.q0_ratio.value) && run.num_points == 1);
  ck_assert_int_eq(cavum_coldtest_summarise_run(&run, test, 1, NULL), CAVUM_OK);
  ck_assert(isnan(run.q0_ratio.value) && run.num_points == 3);
  ck_assert_int_eq(cavum_coldtest_summarise_run(&run, test, 4, &error), CAVUM_ERR_INPUT);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Wall power plus what the bath takes up anyway; both uncertainties in it, in squares.
START_TEST(heat_of_the_bath_has_its_static_part) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.common_gain_uncertainty = 0.03;
  setup.static_heat_w = (cavum_estimate){.value = 1.5, .uncertainty = 0.2};
  cavum_coldtest *test = evaluate(&setup);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 2);
  double wall = point->value[CAVUM_QUANTITY_WALL_POWER];
  CAVUM_CHECK_RELATIVE(point->value[CAVUM_QUANTITY_BATH_HEAT], wall + 1.5, 1e-12);
  CAVUM_CHECK_RELATIVE(point->uncertainty[CAVUM_QUANTITY_BATH_HEAT],
                       hypot(point->uncertainty[CAVUM_QUANTITY_WALL_POWER], 0.2), 1e-12);
  cavum_coldtest_budget budget;
  ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, 2, CAVUM_QUANTITY_BATH_HEAT, NULL),
                   CAVUM_OK);
  CAVUM_CHECK_RELATIVE(budget.contribution[CAVUM_INPUT_STATIC_HEAT], 0.2, 1e-12);
  // Q0 does not hang on it.
  ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, 2, CAVUM_QUANTITY_Q0, NULL), CAVUM_OK);
  ck_assert(budget.contribution[CAVUM_INPUT_STATIC_HEAT] == 0.0);
  cavum_coldtest_destroy(&test);
  setup.static_heat_w = (cavum_estimate){0};
  test = evaluate(&setup);
  ck_assert(isnan(cavum_coldtest_get_point(test, 2)->value[CAVUM_QUANTITY_BATH_HEAT]));
  cavum_coldtest_destroy(&test);
}
END_TEST

// A limit of the bath counts the static heat, in a plan too; where it is not stated nothing is
// said.
START_TEST(plans_count_the_static_heat) {
  cavum_coldtest_setup setup = scenario_setup();
  const cavum_plan_request request = {FREQUENCY_HZ, 10e6, 2e10, Q_EXTERNAL, Q_PICKUP};
  cavum_plan plan;
  setup.num_limits = 1;
  setup.limits[0] = (cavum_coldtest_limit){"bath", "invented", CAVUM_QUANTITY_BATH_HEAT, 4.0};
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
  ck_assert(isnan(plan.limit_share[0]));
  setup.static_heat_w = (cavum_estimate){.value = 1.5, .uncertainty = 0.2};
  ck_assert_int_eq(cavum_coldtest_make_plan(&plan, &setup, &request, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(plan.limit_share[0], (plan.state.wall_power_w + 1.5) / 4.0, 1e-12);
}
END_TEST

START_TEST(the_column_names_runs) {
  char folder[128], path[256];
  cavum_coldtest_readings readings;
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/r.csv", folder);
  FILE *out = fopen(path, "w");
  fputs(
      "run,forward_W,reflected_W,transmitted_W\nfirst,1,0.1,1e-3\n,1,0.1,1e-3\n"
      "after 20 K,1,0.1,1e-3\nfirst,1,0.1,1e-3\n",
      out);
  for (int i = 0; i < 70; i++) fputc('x', out);
  fputs(",1,0.1,1e-3\n", out);
  ck_assert_int_eq(fclose(out), 0);
  ck_assert_int_eq(cavum_coldtest_read_readings(&readings, path, &setup, NULL), CAVUM_OK);
  static const int expected[] = {1, 0, 2, 1};
  ck_assert_int_eq(readings.num_readings, 4);
  for (int i = 0; i < 4; i++) ck_assert_int_eq(readings.items[i].run, expected[i]);
  ck_assert_int_eq(readings.num_runs, 2);
  ck_assert_str_eq(readings.runs[1], "after 20 K");
  ck_assert_int_eq(readings.num_set_aside, 1);
  ck_assert_ptr_nonnull(strstr(readings.set_aside[0].reason, "r.csv:6: run: a name of at most 63"));
  cavum_coldtest_readings_clear(&readings);
  temporary_folder_delete(folder);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, what_runs_share_leaves_their_ratio);
  tcase_add_test(tests, runs_that_do_not_compare_have_no_ratio);
  tcase_add_test(tests, heat_of_the_bath_has_its_static_part);
  tcase_add_test(tests, plans_count_the_static_heat);
  tcase_add_test(tests, the_column_names_runs);
}

CAVUM_TEST_MAIN("runs of a cold test", add_tests)
