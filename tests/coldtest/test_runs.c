// SPDX-License-Identifier: GPL-3.0-or-later
// Runs of a test and the static heat of its bath: names, ratios with what is shared cancelled,
// heat.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cavum/cavum.h"
#include "scenario.h"
#include "store/coldtest_load.h"
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
  const cavum_plan_request request = {
      sizeof(cavum_plan_request), FREQUENCY_HZ, 10e6, 2e10, Q_EXTERNAL, Q_PICKUP};
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
      "after 20 K,1,0.1,1e-3\nfirst,2,0.2,2e-3\n",
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

/** What the runs of the series are made from: residual, gap, BCS amplitude, Lorentz coefficient. */
static const struct {
  double residual_ohm, gap_k, amplitude_ohm_k, lorentz;
} TRUTHS[2] = {{4e-9, 17.7, 2.0e-4, -1.1e-12}, {9e-9, 18.3, 1.4e-4, -1.6e-12}};

enum { SERIES = 8 };

// Two runs of bath temperatures at 5 MV/m, exact, each beginning with a decay; then one reading of
// a run that is too short for any fit.
static void write_series(const char *path, const cavum_coldtest_setup *setup) {
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  fputs(
      "forward_W,reflected_W,transmitted_W,emitted_W,decay_energy_s,frequency_Hz,"
      "bath_temperature_K,run\n",
      file);
  for (int row = 0; row < 2 * SERIES + 1; row++) {
    int run = row / SERIES, i = row % SERIES, made = run < 2 ? run : 0;
    // Gradients a little apart, so that the Lorentz coefficient can be told.
    double t = 2.1 - 0.08 * i, e_acc = 5e6 * (1.0 + 0.01 * (i % 4));
    double ohm =
        TRUTHS[made].amplitude_ohm_k / t * exp(-TRUTHS[made].gap_k / t) + TRUTHS[made].residual_ohm;
    cavum_coldtest_reading reading =
        make_reading(setup, e_acc, setup->geometry_factor_ohm.value / ohm, i == 0, run + 1);
    fprintf(file, "%.17g,%.17g,%.17g,", reading.power_w[CAVUM_CHANNEL_FORWARD],
            reading.power_w[CAVUM_CHANNEL_REFLECTED], reading.power_w[CAVUM_CHANNEL_TRANSMITTED]);
    if (i == 0) fprintf(file, "%.17g", reading.power_w[CAVUM_CHANNEL_EMITTED]);
    fputc(',', file);
    if (i == 0) fprintf(file, "%.17g", reading.decay_time_s);
    fprintf(file, ",%.17g,%.17g,%s\n", FREQUENCY_HZ + TRUTHS[made].lorentz * e_acc * e_acc, t,
            run == 0   ? "before"
            : run == 1 ? "after"
                       : "alone");
  }
  ck_assert_int_eq(fclose(file), 0);
}

static cavum_coldtest_report *run_series(const char *folder) {
  cavum_coldtest_file file = {.setup = scenario_setup()};
  cavum_coldtest_run_options options = {.struct_size = sizeof options, .no_monte_carlo = true};
  cavum_coldtest_report *report = NULL;
  cavum_error error = {0};
  file.setup.geometry_factor_ohm = (cavum_estimate){.value = 270.0};
  file.setup.channels[CAVUM_CHANNEL_TRANSMITTED].noise = 0.002;
  file.setup.decay_noise = 0.005;
  file.text = strdup("");
  file.fit_resistance = file.fit_frequency = true;
  file.resistance = cavum_resistance_options_default();
  file.frequency = cavum_frequency_options_default();
  file.frequency.reading_hz = 0.1;
  snprintf(file.readings_path, sizeof file.readings_path, "%s/series.csv", folder);
  write_series(file.readings_path, &file.setup);
  ck_assert_msg(cavum_coldtest_run(&report, &file, &options, &error) == CAVUM_OK, "%s",
                error.message);
  free(file.text);
  return report;
}

// Each run has its own fit: both truths come out exactly, where the fit of all readings together
// gives neither. A run of one reading has none, and says why.
START_TEST(each_run_has_its_own_fits) {
  char folder[128];
  temporary_folder_make(folder);
  cavum_coldtest_report *report = run_series(folder);
  ck_assert_int_eq(report->num_run_fits, 3);
  for (int run = 0; run < 2; run++) {
    const cavum_run_fit *fit = &report->run_fits[run];
    const struct {
      cavum_run_quantity quantity;
      double truth;
    } rows[] = {{CAVUM_RUN_RESIDUAL, TRUTHS[run].residual_ohm},
                {CAVUM_RUN_GAP, TRUTHS[run].gap_k},
                {CAVUM_RUN_AMPLITUDE, TRUTHS[run].amplitude_ohm_k},
                {CAVUM_RUN_BCS, TRUTHS[run].amplitude_ohm_k / 2.0 * exp(-TRUTHS[run].gap_k / 2.0)},
                {CAVUM_RUN_LORENTZ, TRUTHS[run].lorentz},
                {CAVUM_RUN_FREQUENCY, FREQUENCY_HZ}};
    ck_assert_int_eq(fit->resistance.num_readings, SERIES);
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
      cavum_estimate found = cavum_run_fit_get(fit, rows[i].quantity);
      // The readings are exact; what the solver leaves is far below 1e-5.
      CAVUM_CHECK_RELATIVE(found.value, rows[i].truth, 1e-5);
      ck_assert(found.uncertainty > 0.0);
    }
    ck_assert(isnan(cavum_run_fit_get(fit, CAVUM_RUN_PRESSURE).value));
  }
  ck_assert(fabs(report->fit.residual_ohm.value / TRUTHS[0].residual_ohm - 1.0) > 0.01);
  const cavum_run_fit *alone = &report->run_fits[2];
  ck_assert(!alone->has_resistance && !alone->has_frequency);
  ck_assert_ptr_nonnull(strstr(alone->caution, " reading"));
  ck_assert(isnan(cavum_run_fit_get(alone, CAVUM_RUN_GAP).value));
  ck_assert(isnan(cavum_run_fit_get(NULL, CAVUM_RUN_GAP).value));
  cavum_coldtest_report_destroy(&report);
  temporary_folder_delete(folder);
}
END_TEST

// JSON, CSV and the file that pictures and reports are made from have the fits.
START_TEST(fits_of_runs_reach_outputs) {
  char folder[128], path[256], expected[64], *json = NULL, *csv = NULL;
  temporary_folder_make(folder);
  cavum_coldtest_report *report = run_series(folder);
  cavum_stored_coldtest stored;
  ck_assert_int_eq(cavum_store_coldtest_to_json(&json, report, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_store_coldtest_to_csv(&csv, report, NULL), CAVUM_OK);
  snprintf(path, sizeof path, "%s/series.hdf", folder);
  ck_assert_int_eq(cavum_store_write_coldtest(path, report, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_stored_coldtest_read(&stored, path, NULL), CAVUM_OK);
  ck_assert_int_eq(stored.runs.count, 3);
  for (int run = 0; run < 3; run++) {
    for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) {
      cavum_estimate e = cavum_run_fit_get(&report->run_fits[run], (cavum_run_quantity)k);
      if (!stored.runs.fit[k].value) {
        ck_assert(isnan(e.value));
        continue;
      }
      ck_assert(stored.runs.fit[k].value[run] == e.value || isnan(e.value));
      ck_assert(stored.runs.fit[k].uncertainty[run] == e.uncertainty || isnan(e.value));
    }
    ck_assert_str_eq(stored.runs.fit_caution[run], report->run_fits[run].caution);
  }
  ck_assert_ptr_nonnull(strstr(csv, ",run_residual_ohm,run_residual_ohm_uncertainty"));
  snprintf(expected, sizeof expected, "%.10g",
           cavum_run_fit_get(&report->run_fits[1], CAVUM_RUN_RESIDUAL).value);
  expected[8] = '\0';  // Seven digits, as JSON and CSV print more.
  ck_assert_ptr_nonnull(strstr(csv, expected));
  ck_assert_ptr_nonnull(strstr(json, expected));
  ck_assert_ptr_nonnull(strstr(json, "fit_caution"));
  cavum_stored_coldtest_clear(&stored);
  cavum_coldtest_report_destroy(&report);
  free(json);
  free(csv);
  temporary_folder_delete(folder);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, each_run_has_its_own_fits);
  tcase_add_test(tests, fits_of_runs_reach_outputs);
  tcase_add_test(tests, what_runs_share_leaves_their_ratio);
  tcase_add_test(tests, runs_that_do_not_compare_have_no_ratio);
  tcase_add_test(tests, heat_of_the_bath_has_its_static_part);
  tcase_add_test(tests, plans_count_the_static_heat);
  tcase_add_test(tests, the_column_names_runs);
}

CAVUM_TEST_MAIN("runs of a cold test", add_tests)
