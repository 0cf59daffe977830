// SPDX-License-Identifier: GPL-3.0-or-later
// Traces that the readings of their test contradict: each slip is made from one good trace, whose
// remarks are none. Numbers of the remarks follow from the cavity.
#include <string.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"

// At the stated couplings; Q0 of 2e10 gives Q_L = 1 / (1/2e10 + 1/1e10 + 1/1e12) = 6.623e9, and a
// decay time of Q_L / w = 0.81078 s at 1300 MHz.
static const double DECAY_S = 0.81078;
static const char TEST[] =
    "geometry: {figures: {source: invented, r_over_q_ohm: 100.0, r_over_q_convention: linac, "
    "accelerating_length_mm: 100.0, geometry_factor_ohm: 270.0}}\n"
    "frequency_MHz: 1300.0\n"
    "readings: {file: r.csv}\n"
    "meters: {common_gain_uncertainty_percent: 1.0}\n"
    "pickup: {q: 1.0e12, uncertainty_percent: 1}\n"
    "input_coupler: {q: 1.0e10, uncertainty_percent: 1}\n"
    "method: {branch: over, coupling: reflected}\n";
// E_acc = sqrt(100 ohm Q_t P_t) / 0.1 m: 20 MV/m at 0.04 W. P_f = P_d (1 + b)^2 / (4 b) with
// b = 1.961 and P_d = 2.04 W with what the pickup takes: 2.2801 W, P_r = 0.2401 W.
static const char READINGS[] =
    "forward_W,reflected_W,transmitted_W,decay_energy_s\n"
    "2.2801,0.2401,0.04,0.81078\n";

static char folder[128];

static void set_up(void) { temporary_folder_make(folder); }

static void tear_down(void) { temporary_folder_delete(folder); }

static FILE *make_file(const char *name) {
  char path[192];
  snprintf(path, sizeof path, "%s/%s", folder, name);
  FILE *file = fopen(path, "w");
  ck_assert_ptr_nonnull(file);
  return file;
}

/** What is done to the good trace. */
typedef struct slip {
  double times, powers;  // Factors.
  double quench_s;       // The power falls to a hundredth in 0.1 s then; 0: never.
  int gap;               // Sample without a power; 0: none.
  double step, skip_s;   // From 1.4 s on: factor of the powers (0: none), added to the times.
} slip;

static void write_trace(const char *name, slip s) {
  FILE *file = make_file(name);
  fputs("time_s,transmitted_W\n", file);
  for (int i = 0; i < 400; i++) {
    double t = 0.01 * i, power_w = 0.04 * exp(-t / DECAY_S);
    if (s.quench_s > 0.0 && t > s.quench_s) {
      power_w *= exp(-cavum_min((t - s.quench_s) / 0.1, 1.0) * log(100.0));
    }
    if (s.step > 0.0 && i >= 140) power_w *= s.step;
    if (i >= 140) t += s.skip_s;
    fprintf(file, i == s.gap && s.gap > 0 ? "%.9g,\n" : "%.9g,%.9g\n", s.times * t,
            s.powers * power_w);
  }
  ck_assert_int_eq(fclose(file), 0);
}

static cavum_coldtest_report *run_with(const char *readings, const char *traces) {
  cavum_error error = {0};
  cavum_coldtest_file test;
  cavum_coldtest_report *report = NULL;
  char path[192], text[2048];
  FILE *file = make_file("r.csv");
  fputs(readings, file);
  ck_assert_int_eq(fclose(file), 0);
  snprintf(path, sizeof path, "%s/test.yaml", folder);
  snprintf(text, sizeof text, "%straces: [%s]\n", TEST, traces);
  cavum_status status = cavum_coldtest_file_read_text(&test, text, strlen(text), path, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  const cavum_coldtest_run_options options = {.struct_size = sizeof options,
                                              .no_monte_carlo = true};
  status = cavum_coldtest_run(&report, &test, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_coldtest_file_clear(&test);
  return report;
}

static cavum_coldtest_report *run(const char *traces) { return run_with(READINGS, traces); }

static const char *trace_remark(const cavum_coldtest_report *report) {
  for (int i = 0; i < cavum_coldtest_num_remarks(report->test); i++) {
    const char *remark = cavum_coldtest_get_remark(report->test, i);
    printf("%s\n", remark);
    if (strstr(remark, ".csv")) return remark;
  }
  return "";
}

static const struct {
  slip slip;
  bool kept;
  const char *parts[3];  // None: no remark.
} CASES[] = {
    {{1.0, 1.0, 0.0, 0, 0.0, 0.0}, true, {NULL}},
    {{1.0, 1.0, 0.0, 7, 0.0, 0.0}, true, {"a.csv:9: the first of 1 sample, of 400", "left out"}},
    // 2 dB less: within a step. 6 dB more than was read: twice the gradient.
    {{1.0, 0.63, 0.0, 0, 0.0, 0.0}, true, {NULL}},
    {{1.0, 1.3, 0.0, 0, 0.0, 0.0}, true, {NULL}},
    {{1.0, 4.0, 0.0, 0, 0.0, 0.0},
     true,
     {"where the decay starts", "20 MV/m at the highest", "attenuator"}},
    // Powers of milliwatts read as watts: some 600 MV/m.
    {{1.0, 1e3, 0.0, 0, 0.0, 0.0},
     false,
     {"set aside", "where the decay starts", "20 MV/m at the highest"}},
    {{1.3, 1.0, 0.0, 0, 0.0, 0.0}, true, {NULL}},
    {{0.5, 1.0, 0.0, 0, 0.0, 0.0},
     true,
     {"0.4054 s at 20 MV/m", "reading 1 has 0.8108 s", "moved"}},
    // Times of milliseconds read as seconds; Q_e / w is 1.224 s.
    {{1e3, 1.0, 0.0, 0, 0.0, 0.0},
     false,
     {"set aside", "decay time of 810.8 s", "no more than 1.224 s"}},
    {{1.0, 1.0, 1.4, 0, 0.0, 0.0}, true, {"6.623e+09 before", "6.623e+09 after", "quench"}},
    // A range that reads 10 % less or more, and a recorder that leaves out 0.1 s: Q_L of a window
    // of 0.24 s is two thirds of theirs, or up to twice as large.
    {{1.0, 1.0, 0.0, 0, 0.9, 0.0}, true, {"6.623e+09 before", "6.623e+09 after", "range"}},
    {{1.0, 1.0, 0.0, 0, 1.1, 0.0}, true, {"6.623e+09 before", "6.623e+09 after", "range"}},
    {{1.0, 1.0, 0.0, 0, 0.0, 0.1}, true, {"6.623e+09 before", "6.623e+09 after", "left out"}},
};

START_TEST(a_trace_is_held_against_the_readings) {
  write_trace("a.csv", CASES[_i].slip);
  cavum_coldtest_report *report = run("{file: a.csv, noise_percent: 0.5}");
  const char *remark = trace_remark(report);
  ck_assert_int_eq(report->num_analyses, CASES[_i].kept ? 1 : 0);
  if (!CASES[_i].parts[0]) ck_assert_str_eq(remark, "");
  for (int i = 0; i < 3 && CASES[_i].parts[i]; i++) {
    ck_assert_msg(strstr(remark, CASES[_i].parts[i]) != NULL, "'%s' has no '%s'", remark,
                  CASES[_i].parts[i]);
  }
  cavum_coldtest_report_destroy(&report);
}
END_TEST

// The others keep their names and numbers.
START_TEST(a_trace_that_is_set_aside_leaves_the_others) {
  write_trace("a.csv", (slip){1.0, 1e3, 0.0, 0, 0.0, 0.0});
  write_trace("b.csv", (slip){1.0, 1.0, 0.0, 0, 0.0, 0.0});
  cavum_coldtest_report *report = run("{file: a.csv}, {file: b.csv}");
  ck_assert_int_eq(report->num_analyses, 1);
  ck_assert_int_eq(report->file.num_traces, 1);
  ck_assert_ptr_nonnull(strstr(report->file.traces[0].path, "b.csv"));
  CAVUM_CHECK_RELATIVE(report->analyses[0].decay_time_s.value, DECAY_S, 1e-6);
  cavum_coldtest_report_destroy(&report);
}
END_TEST

// What is wrong with a trace does not cost the readings: it is set aside with its line and reason,
// and the other trace is evaluated.
START_TEST(a_trace_that_is_no_decay_leaves_the_readings) {
  static const struct {
    const char *first, *more, *parts[2];
  } bad[] = {
      {"1,5\n0.5,4\n", "%d,3\n", {"a.csv:3: column 1 (time_s): times that rise", "set aside"}},
      {"0,1\n", "%d,1\n", {"a.csv:2: the power does not fall from here", "set aside"}},
      {"0,4\n1,2\n", "# %d\n", {"a.csv:3: the last of 2 samples", "set aside"}},
      {"0,x\n1,y\n", "%d,z\n", {"a.csv:2: column 2 (transmitted_W): a number", "set aside"}},
      {"0,-1\n", "%d,-1\n", {"a.csv:2: the first of 21 samples that cannot be used", "set aside"}},
  };
  write_trace("b.csv", (slip){1.0, 1.0, 0.0, 0, 0.0, 0.0});
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    FILE *file = make_file("a.csv");
    fputs("time_s,transmitted_W\n", file);
    fputs(bad[i].first, file);
    for (int k = 2; k < 22; k++) fprintf(file, bad[i].more, k);
    ck_assert_int_eq(fclose(file), 0);
    cavum_coldtest_report *report = run("{file: a.csv}, {file: b.csv}");
    const char *remark = trace_remark(report);
    ck_assert_int_eq(report->num_analyses, 1);
    ck_assert_int_eq((int)cavum_coldtest_num_points(report->test), 1);
    ck_assert_ptr_nonnull(strstr(report->file.traces[0].path, "b.csv"));
    for (int k = 0; k < 2; k++) {
      ck_assert_msg(strstr(remark, bad[i].parts[k]) != NULL, "'%s' has no '%s'", remark,
                    bad[i].parts[k]);
    }
    cavum_coldtest_report_destroy(&report);
  }
}
END_TEST

// A cell that is no number and a time that stands there twice, as slow clocks write them, take
// their samples away, not the trace; the first of them is named.
START_TEST(a_sample_that_is_none_is_left_out) {
  FILE *file = make_file("a.csv");
  fputs("time_s,transmitted_W\n", file);
  for (int i = 0; i < 400; i++) {
    double t = 0.01 * i;
    if (i == 9) fputs("x,0.03\n", file);
    fprintf(file, i == 30 ? "%.9g,over\n" : "%.9g,%.9g\n", t, 0.04 * exp(-t / DECAY_S));
    if (i == 50) fprintf(file, "%.9g,%.9g\n", t, 0.04 * exp(-t / DECAY_S));
  }
  ck_assert_int_eq(fclose(file), 0);
  cavum_coldtest_report *report = run("{file: a.csv}");
  const char *remark = trace_remark(report);
  ck_assert_int_eq(report->num_analyses, 1);
  ck_assert_int_eq((int)report->analyses[0].num_used, 399);
  CAVUM_CHECK_RELATIVE(report->analyses[0].decay_time_s.value, DECAY_S, 1e-6);
  const char *parts[] = {"a.csv:11: the first of 3 samples, of 402, that are left out",
                         "no time of its own, or no power"};
  for (int k = 0; k < 2; k++) {
    ck_assert_msg(strstr(remark, parts[k]) != NULL, "'%s' has no '%s'", remark, parts[k]);
  }
  cavum_coldtest_report_destroy(&report);
}
END_TEST

// A meter that reads a constant too much: Q_L rises along the decay without end, above Q_e, and Q0
// with it. P / P_0 = 0.02 more is as much as the power itself after 3.2 s.
START_TEST(a_floor_that_is_not_stated_is_told) {
  FILE *file = make_file("a.csv");
  fputs("time_s,transmitted_W\n", file);
  for (int i = 0; i < 400; i++) {
    fprintf(file, "%.9g,%.9g\n", 0.01 * i, 0.04 * exp(-0.01 * i / DECAY_S) + 0.0008);
  }
  ck_assert_int_eq(fclose(file), 0);
  cavum_coldtest_report *report = run("{file: a.csv, noise_percent: 0.5}");
  const char *remark = trace_remark(report);
  ck_assert_int_eq(report->num_analyses, 1);
  const char *parts[] = {"a.csv: from ", " s on the loaded Q is above Q_e of 1e+10", "zero_mW",
                         "last_s"};
  for (int k = 0; k < 4; k++) {
    ck_assert_msg(strstr(remark, parts[k]) != NULL, "'%s' has no '%s'", remark, parts[k]);
  }
  cavum_coldtest_report_destroy(&report);
}
END_TEST

// An amplitude recorded as a power falls half as fast: 2 * 6.623e9 is above Q_e from the start.
START_TEST(an_amplitude_in_place_of_a_power_is_told) {
  write_trace("a.csv", (slip){2.0, 1.0, 0.0, 0, 0.0, 0.0});
  cavum_coldtest_report *report =
      run_with("forward_W,reflected_W,transmitted_W\n2.2801,0.2401,0.04\n",
               "{file: a.csv, noise_percent: 0.5}");
  const char *remark = trace_remark(report);
  ck_assert_ptr_nonnull(strstr(remark, "a.csv: the loaded Q is above Q_e of 1e+10 all along"));
  ck_assert_ptr_nonnull(strstr(remark, "an amplitude in place of the power"));
  ck_assert_ptr_null(strstr(remark, "zero_mW"));
  cavum_coldtest_report_destroy(&report);
}
END_TEST

// Three later readings without a decay time have Q_L of 6.623e9, 20 % less than the trace: a clock
// that is slow. A trace at another temperature has a reading of its own to agree with.
START_TEST(a_time_base_that_is_off_is_told_by_later_readings) {
  static const char *const readings[] = {
      // 2.2801, 0.2401 and 0.04 W at 20 MV/m, times a half and a quarter: the same Q.
      "forward_W,reflected_W,transmitted_W\n2.2801,0.2401,0.04\n1.14005,0.12005,0.02\n"
      "0.570025,0.060025,0.01\n",
      // Q0 of 4e10 at 20, 14.1 and 10 MV/m besides, Q_L 7.937e9: between both.
      "forward_W,reflected_W,transmitted_W\n2.2801,0.2401,0.04\n1.14005,0.12005,0.02\n"
      "0.570025,0.060025,0.01\n1.5876,0.5476,0.04\n0.7938,0.2738,0.02\n0.3969,0.1369,0.01\n"};
  write_trace("a.csv", (slip){1.2, 1.0, 0.0, 0, 0.0, 0.0});
  for (int i = 0; i < 2; i++) {
    cavum_coldtest_report *report = run_with(readings[i], "{file: a.csv, noise_percent: 0.5}");
    const char *remark = trace_remark(report);
    ck_assert_int_eq(report->num_analyses, 1);
    if (i == 1) ck_assert_str_eq(remark, "");
    const char *parts[] = {"the loaded Q is 20 % above that of the readings at the same field",
                           "the time base", "6.623e+09"};
    for (int k = 0; i == 0 && k < 3; k++) {
      ck_assert_msg(strstr(remark, parts[k]) != NULL, "'%s' has no '%s'", remark, parts[k]);
    }
    cavum_coldtest_report_destroy(&report);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, a_trace_is_held_against_the_readings, 0, sizeof CASES / sizeof *CASES);
  tcase_add_test(tests, a_trace_that_is_set_aside_leaves_the_others);
  tcase_add_test(tests, a_trace_that_is_no_decay_leaves_the_readings);
  tcase_add_test(tests, a_sample_that_is_none_is_left_out);
  tcase_add_test(tests, a_floor_that_is_not_stated_is_told);
  tcase_add_test(tests, an_amplitude_in_place_of_a_power_is_told);
  tcase_add_test(tests, a_time_base_that_is_off_is_told_by_later_readings);
}

CAVUM_TEST_MAIN("remarks on decay traces", add_tests)
