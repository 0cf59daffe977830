// SPDX-License-Identifier: GPL-3.0-or-later
// What the evaluation of a test says to a log hook, and that it stops when it is told to.
#include <stdlib.h>
#include <string.h>

#include "cavum/cavum.h"
#include "support.h"
#include "temporary_folder.h"

// Calibrated by its first row; the third gives no cavity, the coupling is far from one.
static const char TEST[] =
    "title: heard\n"
    "geometry:\n"
    "  figures:\n"
    "    source: invented\n"
    "    r_over_q_ohm: 100.0\n"
    "    r_over_q_convention: linac\n"
    "    accelerating_length_mm: 100.0\n"
    "    geometry_factor_ohm: 270.0\n"
    "frequency_MHz: 1300.0\n"
    "readings: {file: r.csv}\n"
    "meters: {common_gain_uncertainty_percent: 1.0}\n"
    "method: {branch: over}\n"
    "statistics: {monte_carlo_points: 10}\n";
static const char READINGS[] =
    "forward_W,reflected_W,transmitted_W,decay_energy_s\n"
    "10,2,0.01,1.0\n"
    "20,4,0.02,\n"
    "1,2,0.01,\n"
    "30,6,0.03,\n";

/** All messages, one a line: severity, place, text; and when to stop. */
typedef struct heard {
  char text[8192];
  int questions, stop_at;
} heard;

static void hear(cavum_log_severity severity, const char *where, const char *message, void *data) {
  heard *h = data;
  size_t used = strlen(h->text);
  ck_assert_ptr_null(strchr(message, '\n'));
  snprintf(h->text + used, sizeof h->text - used, "%d %s: %s\n", (int)severity, where, message);
}

static bool has_heard_enough(void *data) {
  heard *h = data;
  return ++h->questions >= h->stop_at;
}

static cavum_status run(cavum_coldtest_report **report, const char *test,
                        const cavum_coldtest_watch *watch, cavum_error *error) {
  char folder[128], path[192];
  cavum_coldtest_file file;
  temporary_folder_make(folder);
  snprintf(path, sizeof path, "%s/r.csv", folder);
  FILE *out = fopen(path, "w");
  fputs(READINGS, out);
  ck_assert_int_eq(fclose(out), 0);
  snprintf(path, sizeof path, "%s/test.yaml", folder);
  cavum_status status = cavum_coldtest_file_read_text(&file, test, strlen(test), path, error);
  ck_assert_msg(status == CAVUM_OK, "%s", error->message);
  status = cavum_coldtest_run_watched(report, &file, NULL, watch, error);
  cavum_coldtest_file_clear(&file);
  temporary_folder_delete(folder);
  return status;
}

START_TEST(what_it_says) {
  cavum_error error = {0};
  cavum_coldtest_report *report = NULL;
  heard h = {.stop_at = 1 << 30};
  cavum_coldtest_watch watch = cavum_coldtest_watch_default();
  watch.log = hear;
  watch.log_data = &h;
  cavum_status status = run(&report, TEST, &watch, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%s", h.text);
  ck_assert_ptr_nonnull(strstr(h.text, "0 coldtest: readings of "));
  ck_assert_ptr_nonnull(strstr(h.text, "0 coldtest: Monte Carlo of 3 readings\n"));
  ck_assert_ptr_nonnull(strstr(h.text, "2 coldtest: row set aside, line 4: "));
  // Each flag of a point is heard, with the number of points that have it, and no other.
  for (int flag = 0; flag < CAVUM_NUM_FLAGS; flag++) {
    int count = 0;
    char line[CAVUM_MESSAGE_SIZE];
    for (int i = 0; i < 3; i++) {
      count += cavum_coldtest_get_point(report->test, i)->flags >> flag & 1U;
    }
    const char *text = cavum_coldtest_flag_text((cavum_coldtest_flag)flag);
    snprintf(line, sizeof line, "2 coldtest: %d of 3 readings: %s\n", count, text);
    ck_assert_msg(count > 0 ? strstr(h.text, line) != NULL : strstr(h.text, text) == NULL, "%s",
                  line);
  }
  cavum_coldtest_report_destroy(&report);
}
END_TEST

START_TEST(monte_carlo_that_is_left_out) {
  char text[1024];
  cavum_error error = {0};
  cavum_coldtest_report *report = NULL;
  heard h = {.stop_at = 1 << 30};
  cavum_coldtest_watch watch = cavum_coldtest_watch_default();
  watch.log = hear;
  watch.log_data = &h;
  snprintf(text, sizeof text, "%s", TEST);
  memcpy(strstr(text, "10}"), " 2}", 3);
  cavum_status status = run(&report, text, &watch, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_ptr_nonnull(strstr(h.text, "1 coldtest: no Monte Carlo: 3 readings"));
  ck_assert_ptr_null(strstr(h.text, "Monte Carlo of"));
  cavum_coldtest_report_destroy(&report);
}
END_TEST

START_TEST(nobody_is_told_or_asked) {
  cavum_error error = {0};
  cavum_coldtest_report *report = NULL;
  cavum_coldtest_watch watch = cavum_coldtest_watch_default();
  ck_assert_int_eq(run(&report, TEST, &watch, &error), CAVUM_OK);
  cavum_coldtest_report_destroy(&report);
  ck_assert_int_eq(run(&report, TEST, NULL, &error), CAVUM_OK);
  cavum_coldtest_report_destroy(&report);
  memset(&watch, 0x5a, sizeof watch);
  ck_assert_int_eq(run(&report, TEST, &watch, &error), CAVUM_ERR_USAGE);
  ck_assert_ptr_nonnull(strstr(error.message, "cavum_coldtest_watch_default()"));
  ck_assert_ptr_null(report);
}
END_TEST

// At the first question, and at the last one: nothing is handed out, and the next run is as ever.
START_TEST(it_stops) {
  cavum_error error = {0};
  cavum_coldtest_report *report = NULL;
  heard h = {.stop_at = 1};
  cavum_coldtest_watch watch = cavum_coldtest_watch_default();
  watch.stop = has_heard_enough;
  watch.stop_data = &h;
  ck_assert_int_eq(run(&report, TEST, &watch, &error), CAVUM_ERR_STOPPED);
  ck_assert_int_eq(error.status, CAVUM_ERR_STOPPED);
  ck_assert_ptr_null(report);
  ck_assert_int_eq(h.questions, 1);
  h = (heard){.stop_at = 1 << 30};
  ck_assert_int_eq(run(&report, TEST, &watch, &error), CAVUM_OK);
  printf("%d questions\n", h.questions);
  ck_assert_int_ge(h.questions, 1);
  cavum_coldtest_report_destroy(&report);
}
END_TEST

START_TEST(one_description_of_what_is_fitted_to_a_run) {
  for (int i = 0; i < CAVUM_NUM_RUN_QUANTITIES; i++) {
    cavum_run_quantity quantity = (cavum_run_quantity)i;
    cavum_run_quantity_info info = cavum_run_quantity_describe(quantity);
    ck_assert_str_eq(info.key, cavum_run_quantity_key(quantity));
    ck_assert_str_eq(info.unit, cavum_run_quantity_unit(quantity));
    ck_assert_str_eq(info.text, cavum_run_quantity_text(quantity));
  }
  ck_assert_str_eq(cavum_run_quantity_describe(CAVUM_RUN_PRESSURE).unit, "Hz Pa-1");
  // As cavum_change_describe() and its like; the former functions as they were.
  ck_assert_str_eq(cavum_run_quantity_describe(CAVUM_NUM_RUN_QUANTITIES).key, "unknown");
  ck_assert_str_eq(cavum_run_quantity_key(CAVUM_NUM_RUN_QUANTITIES), "");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, what_it_says);
  tcase_add_test(tests, monte_carlo_that_is_left_out);
  tcase_add_test(tests, nobody_is_told_or_asked);
  tcase_add_test(tests, it_stops);
  tcase_add_test(tests, one_description_of_what_is_fitted_to_a_run);
}

CAVUM_TEST_MAIN("coldtest.watch", add_tests)
