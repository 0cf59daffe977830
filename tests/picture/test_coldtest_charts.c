// SPDX-License-Identifier: GPL-3.0-or-later
// Charts of a cold test against the circuit that its numbers come from.
#include <math.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest.h"
#include "cavum/coldtest_series.h"
#include "picture/coldtest_charts.h"
#include "picture/coldtest_limits.h"
#include "picture/coldtest_readings.h"
#include "support.h"

enum { POINTS = 3, SAMPLES = 5 };

static const double Q_EXTERNAL = 3e10, Q_PICKUP = 8e12, FREQUENCY_HZ = 7e8;

// A test of three readings; everything that is owned is borrowed from here.
static double gradient[POINTS] = {5e6, 10e6, 20e6}, q0[POINTS] = {2e10, 1.9e10, 1.5e10};
static double frequency[POINTS], pressure[POINTS] = {3000.0, 3100.0, 3050.0};
static cavum_stored_limit limits[] = {{"amplifier", "invented", "forward_power_W", 2.5},
                                      {"bath", "invented", "wall_power_W", 1.5},
                                      {"critical field", "invented", "peak_magnetic_field_T", 0.12},
                                      {"surface", "invented", "peak_electric_field_V_per_m", 50e6}};

static cavum_stored_coldtest make_test(void) {
  cavum_stored_coldtest test = {.title = "a test",
                                .ended = "",
                                .r_over_q_linac_ohm = 200.0,
                                .accelerating_length_m = 0.2,
                                .epk_over_eacc = 2.0,
                                .bpk_over_eacc_t_per_v_per_m = 4e-9,
                                .q_external = Q_EXTERNAL,
                                .q_pickup = Q_PICKUP,
                                .num_points = POINTS,
                                .num_limits = 4,
                                .limits = limits};
  test.column[CAVUM_STORED_GRADIENT] = gradient;
  test.column[CAVUM_STORED_Q0] = q0;
  return test;
}

static const cavum_chart *find(const cavum_test_charts *charts, const char *name) {
  for (int i = 0; i < charts->count; i++) {
    if (strcmp(charts->chart[i].name, name) == 0) return &charts->chart[i];
  }
  ck_abort_msg("no chart %s", name);
  return NULL;
}

static const cavum_chart_series *find_series(const cavum_chart *chart, const char *start) {
  for (int i = 0; i < chart->num_series; i++) {
    if (strncmp(chart->series[i].text, start, strlen(start)) == 0) return &chart->series[i];
  }
  ck_abort_msg("no series %s", start);
  return NULL;
}

static cavum_test_charts make_charts(const cavum_stored_coldtest *test) {
  cavum_test_charts charts;
  cavum_error error = {0};
  ck_assert_msg(cavum_test_charts_make(&charts, test, &error) == CAVUM_OK, "%s", error.message);
  return charts;
}

// A cavity on the line of a limit of power needs just that power, by the circuit model.
START_TEST(lines_of_power_are_those_of_the_circuit) {
  cavum_stored_coldtest test = make_test();
  cavum_test_charts charts = make_charts(&test);
  const cavum_chart *chart = find(&charts, "quality");
  for (int k = 0; k < 2; k++) {
    const cavum_chart_series *line = find_series(chart, limits[k].name);
    int seen = 0;
    for (int i = 0; i < line->count; i++) {
      if (!isfinite(line->y[i])) continue;
      cavum_circuit circuit = {.frequency_hz = FREQUENCY_HZ,
                               .q0 = line->y[i],
                               .q_external = Q_EXTERNAL,
                               .q_pickup = Q_PICKUP};
      cavum_circuit_state state;
      double voltage = 1e6 * line->x[i] * 0.2;
      double energy = voltage * voltage / (2.0 * CAVUM_PI * FREQUENCY_HZ * 200.0);
      ck_assert_int_eq(cavum_circuit_drive(&state, &circuit, energy, NULL), CAVUM_OK);
      double power = k == 0 ? state.power_w[CAVUM_CHANNEL_FORWARD] : state.wall_power_w;
      // 1/Q_L is formed from parts that differ by up to four orders.
      CAVUM_CHECK_NEAR(power, limits[k].value, 1e-9 * limits[k].value);
      seen++;
    }
    ck_assert_int_gt(seen, 20);
  }
  cavum_test_charts_clear(&charts);
}
END_TEST

START_TEST(fields_become_gradients) {
  cavum_stored_coldtest test = make_test();
  cavum_test_charts charts = make_charts(&test);
  const cavum_chart *chart = find(&charts, "quality");
  ck_assert_int_eq(chart->num_rules, 2);
  CAVUM_CHECK_NEAR(chart->rules[0].at, 30.0, 1e-12);
  CAVUM_CHECK_NEAR(chart->rules[1].at, 25.0, 1e-12);
  ck_assert_ptr_nonnull(strstr(chart->rules[0].text, "critical field, 30 MV/m"));
  ck_assert(isnan(cavum_test_limit_gradient_v_per_m(&test, &limits[0])));
  cavum_test_charts_clear(&charts);
}
END_TEST

// Two kinds of bars stand in one chart; the line below says which is which.
START_TEST(bars_say_what_they_are) {
  cavum_stored_coldtest test = make_test();
  cavum_test_charts charts = make_charts(&test);
  ck_assert_str_eq(find(&charts, "quality")->remark, "Bars: standard uncertainties, k = 1.");
  cavum_test_charts_clear(&charts);
  double low[] = {1.9e10, 1.8e10, 1.4e10}, high[] = {2.1e10, 2.0e10, 1.6e10};
  test.coverage = 0.95;
  test.intervals.count = POINTS;
  test.intervals.q0_low = low;
  test.intervals.q0_high = high;
  charts = make_charts(&test);
  const cavum_chart *chart = find(&charts, "quality");
  printf("%s\n", chart->remark);
  ck_assert(strstr(chart->remark, "Grey bars: 95 % intervals.") == chart->remark);
  ck_assert_ptr_nonnull(strstr(chart->remark, "Coloured bars: standard uncertainties, k = 1"));
  ck_assert_int_eq(find_series(chart, "95 % interval")->count, POINTS);
  cavum_test_charts_clear(&charts);
}
END_TEST

// A run is one curve as long as the bath stays: a series against temperature was taken at one
// gradient, and a line over the whole chart led to the reading of it that has the usual bath.
START_TEST(the_line_of_a_run_ends_where_the_bath_changes) {
  double e[] = {5e6, 10e6, 20e6, 6e6, 6e6, 6e6, 8e6}, t[] = {2, 2, 2, 2.1, 2, 1.9, 2};
  double q[] = {2e10, 1.9e10, 1.5e10, 1.7e10, 2e10, 2.2e10, 1.95e10}, run[] = {1, 1, 1, 1, 1, 1, 1};
  char *name = "first";
  cavum_stored_coldtest test = make_test();
  test.num_points = 7;
  test.column[CAVUM_STORED_GRADIENT] = e;
  test.column[CAVUM_STORED_Q0] = q;
  test.column[CAVUM_STORED_TEMPERATURE] = t;
  test.column[CAVUM_STORED_RUN] = run;
  test.runs.count = 1;
  test.runs.name = &name;
  cavum_test_charts charts = make_charts(&test);
  const cavum_chart *chart = find(&charts, "quality");
  const cavum_chart_series *line = NULL;
  for (int i = 0; i < chart->num_series && !line; i++) {
    if (!chart->series[i].text[0] && chart->series[i].ink == cavum_test_run_ink(1)) {
      line = &chart->series[i];
    }
  }
  ck_assert_ptr_nonnull(line);
  const double expected[] = {5, 10, 20, NAN, 6, NAN, 8};  // MV/m
  ck_assert_int_eq(line->count, 7);
  for (int i = 0; i < line->count; i++) {
    printf("%g MV/m, %g\n", line->x[i], line->y[i]);
    ck_assert_int_eq(isnan(line->y[i]), isnan(expected[i]));
    if (!isnan(expected[i])) CAVUM_CHECK_NEAR(line->x[i], expected[i], 1e-12);
  }
  cavum_test_charts_clear(&charts);
}
END_TEST

// Without what a chart needs there is none, and nothing is made up.
START_TEST(charts_without_data_are_absent) {
  cavum_stored_coldtest test = make_test();
  test.q_external = test.epk_over_eacc = test.bpk_over_eacc_t_per_v_per_m = 0.0;
  cavum_test_charts charts = make_charts(&test);
  ck_assert_int_eq(charts.count, 1);
  ck_assert_int_eq(charts.chart[0].num_rules, 0);
  for (int i = 0; i < charts.chart[0].num_series; i++) {
    ck_assert_ptr_null(strstr(charts.chart[0].series[i].text, "amplifier"));
  }
  cavum_test_charts_clear(&charts);
}
END_TEST

// Readings that follow the fit exactly lie on its lines, over field and over pressure.
START_TEST(frequencies_are_freed_of_each_other) {
  const double k = -2e-12, slope = -0.25, f0 = 7e8, mean = 3050.0;
  cavum_stored_coldtest test = make_test();
  for (int i = 0; i < POINTS; i++) {
    frequency[i] = f0 + k * gradient[i] * gradient[i] + slope * (pressure[i] - mean);
  }
  test.column[CAVUM_STORED_FREQUENCY] = frequency;
  test.column[CAVUM_STORED_PRESSURE] = pressure;
  test.frequency = (cavum_stored_frequency){.present = true,
                                            .frequency_hz = f0,
                                            .mean_pressure_pa = mean,
                                            .scatter_hz = 0.1,
                                            .lorentz = k,
                                            .lorentz_uncertainty = 1e-14,
                                            .pressure = slope,
                                            .pressure_uncertainty = 1e-3,
                                            .expected_lorentz = NAN,
                                            .expected_pressure = NAN};
  cavum_test_charts charts = make_charts(&test);
  // A double at 7e8 resolves 1.2e-7.
  const double rounding = 1e-6;
  const cavum_chart_series *field = find_series(find(&charts, "lorentz"), "readings");
  const cavum_chart_series *bath = find_series(find(&charts, "pressure"), "readings");
  ck_assert_int_eq(field->count, POINTS);
  for (int i = 0; i < POINTS; i++) {
    CAVUM_CHECK_NEAR(field->x[i], 1e-12 * gradient[i] * gradient[i], 1e-9);
    CAVUM_CHECK_NEAR(field->y[i], k * gradient[i] * gradient[i], rounding);
    CAVUM_CHECK_NEAR(bath->x[i], 0.01 * pressure[i], 1e-9);
    CAVUM_CHECK_NEAR(bath->y[i], slope * (pressure[i] - mean), rounding);
  }
  const cavum_chart_series *line = find_series(find(&charts, "lorentz"), "df/d");
  CAVUM_CHECK_NEAR(line->y[1], k * 4e14, 1e-9);
  cavum_test_charts_clear(&charts);
}
END_TEST

START_TEST(samples_of_a_trace_come_back) {
  static double time_s[SAMPLES] = {0.5, 0.6, 0.7, 0.8, 0.9};
  static double residual[SAMPLES] = {0.01, -0.02, 0.0, 0.03, -0.01};
  static double windows[1] = {0.7};
  cavum_stored_trace trace = {.num_samples = SAMPLES,
                              .num_windows = 1,
                              .time_s = time_s,
                              .residual = residual,
                              .window_time_s = windows,
                              .start_w = 2e-3,
                              .decay_time_s = 0.4};
  cavum_stored_coldtest test = make_test();
  test.traces = &trace;
  test.num_traces = 1;
  cavum_test_charts charts = make_charts(&test);
  const cavum_chart_series *samples = find_series(find(&charts, "trace"), "samples");
  const cavum_chart_series *rest = find_series(find(&charts, "residuals"), "samples");
  for (int i = 0; i < SAMPLES; i++) {
    double milliwatts = 2.0 * exp(residual[i] - (time_s[i] - 0.5) / 0.4);
    CAVUM_CHECK_NEAR(samples->y[i], milliwatts, 1e-12);
    CAVUM_CHECK_NEAR(rest->y[i], 100.0 * residual[i], 1e-12);
  }
  cavum_test_charts_clear(&charts);
}
END_TEST

START_TEST(marks_of_texts_become_plain) {
  static const char *const pairs[][2] = {
      {"Q_{0}", "Q0"},
      {"E_{acc}^{2} / (MV/m)^{2}", "E_acc\xc2\xb2 / (MV/m)\xc2\xb2"},
      {"R_{s}", "R_s"},
      {"a file {name}", "a file {name}"}};
  for (size_t i = 0; i < sizeof pairs / sizeof *pairs; i++) {
    char text[64];
    cavum_chart_plain(text, sizeof text, pairs[i][0]);
    ck_assert_str_eq(text, pairs[i][1]);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, lines_of_power_are_those_of_the_circuit);
  tcase_add_test(tests, fields_become_gradients);
  tcase_add_test(tests, charts_without_data_are_absent);
  tcase_add_test(tests, bars_say_what_they_are);
  tcase_add_test(tests, the_line_of_a_run_ends_where_the_bath_changes);
  tcase_add_test(tests, frequencies_are_freed_of_each_other);
  tcase_add_test(tests, samples_of_a_trace_come_back);
  tcase_add_test(tests, marks_of_texts_become_plain);
}

CAVUM_TEST_MAIN("charts of a cold test", add_tests)
