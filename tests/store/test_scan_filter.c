// SPDX-License-Identifier: GPL-3.0-or-later
// Rows by a condition: in summaries and in CSV those that meet it and no others.
#include <math.h>

#include "made_scan.h"
#include "program.h"
#include "support.h"

enum { NUM_SHAPES = 200 };

static study_files files;
static cavum_study *study;
static cavum_stored_scan *scan;

// A ratio of peak fields from 1.9 to 2.3, missing in every tenth row; every seventh row failed.
static double peak(int64_t shape) { return shape % 10 == 9 ? NAN : 1.9 + 0.002 * (double)shape; }

static bool is_done(int64_t shape) { return shape % 7 != 3; }

static double iris(int64_t shape) { return 30.0 + (double)shape * 10.0 / (NUM_SHAPES - 1); }

static void fill(unsigned char *row, const cavum_study *of, int64_t shape, void *data) {
  (void)data;
  made_scan_set(row, of, "epk_over_eacc", peak(shape));
  made_scan_set(row, of, "geometry_factor_ohm", 270.0);
  made_scan_set(row, of, "status", is_done(shape) ? CAVUM_SHAPE_DONE : CAVUM_SHAPE_FAILED);
}

static void set_up(void) {
  study_files_make(&files, STUDY_CELL,
                   "cell: cell.yaml\nvary: {iris_radius_mm: {from: 30, to: 40, points: 200}}\n");
  study = study_files_open(&files);
  made_scan_write(study, files.output, fill, NULL);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, NULL), CAVUM_OK);
}

static void tear_down(void) {
  cavum_stored_scan_close(&scan);
  cavum_study_close(&study);
  temporary_folder_delete(files.folder);
}

static bool narrow_and_low(int64_t k) { return peak(k) < 2.1 && iris(k) > 33.0; }
static bool ends(int64_t k) { return iris(k) < 31.0 || iris(k) >= 39.0; }
static bool differ(int64_t k) { return isfinite(peak(k)) && peak(k) != 2.0; }
static bool sum(int64_t k) { return peak(k) * 10.0 + iris(k) <= 55.0; }

static const struct {
  const char *condition;
  bool (*meets)(int64_t shape);
} cases[] = {{"epk_over_eacc < 2.1 && iris_radius_mm > 33", narrow_and_low},
             {"contour.iris_radius_mm < 31 || iris_radius_mm >= 39", ends},
             {"epk_over_eacc != 2.0", differ},
             {"10*epk_over_eacc + iris_radius_mm <= 55", sum}};

static cavum_scan_filter *make(const char *condition) {
  cavum_scan_filter *filter = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_scan_filter_create(&filter, scan, condition, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return filter;
}

START_TEST(summaries_hold_what_meets_the_condition) {
  cavum_scan_summary summary = {0};
  int64_t expected[CAVUM_NUM_SHAPE_STATUSES] = {0}, best = -1;
  int column = cavum_stored_scan_find(scan, "epk_over_eacc");
  cavum_scan_aims aims = {.struct_size = sizeof aims,
                          .count = 1,
                          .columns = {column},
                          .smaller = {false},
                          .num_best = 1};
  cavum_scan_filter *filter = make(cases[_i].condition);
  ck_assert_int_eq(cavum_scan_summarise_where(&summary, scan, &aims, filter, NULL), CAVUM_OK);
  for (int64_t k = 0; k < NUM_SHAPES; k++) {
    if (!cases[_i].meets(k)) continue;
    expected[is_done(k) ? CAVUM_SHAPE_DONE : CAVUM_SHAPE_FAILED]++;
    if (is_done(k) && isfinite(peak(k)) && (best < 0 || peak(k) > peak(best))) best = k;
  }
  ck_assert_int_gt(expected[CAVUM_SHAPE_DONE], 0);
  ck_assert_int_eq(summary.num_rows, NUM_SHAPES);
  for (int i = 0; i < CAVUM_NUM_SHAPE_STATUSES; i++) {
    ck_assert_int_eq(summary.by_status[i], expected[i]);
  }
  ck_assert_int_eq(summary.best[0].shape, best);
  ck_assert_int_eq(summary.num_front, 1);
  ck_assert_int_eq(summary.front[0].shape, best);
  ck_assert_double_eq(summary.ranges[column].high, peak(best));
  cavum_scan_summary_clear(&summary);
  cavum_scan_filter_destroy(&filter);
}
END_TEST

START_TEST(csv_holds_what_meets_the_condition) {
  char path[256], line[4096];
  long long shape = -1;
  int64_t next = 0;
  cavum_scan_filter *filter = make(cases[_i].condition);
  snprintf(path, sizeof path, "%s/rows.csv", files.folder);
  ck_assert_int_eq(cavum_store_write_scan_csv_where(path, scan, filter, NULL), CAVUM_OK);
  cavum_scan_filter_destroy(&filter);
  FILE *file = fopen(path, "r");
  ck_assert_ptr_nonnull(file);
  ck_assert_ptr_nonnull(fgets(line, sizeof line, file));
  while (fgets(line, sizeof line, file)) {
    ck_assert_int_eq(sscanf(line, "%lld,", &shape), 1);
    while (next < NUM_SHAPES && !cases[_i].meets(next)) next++;
    ck_assert_int_eq(shape, next++);
  }
  while (next < NUM_SHAPES && !cases[_i].meets(next)) next++;
  ck_assert_int_eq(next, NUM_SHAPES);
  fclose(file);
}
END_TEST

static const struct {
  const char *condition, *words;
} refused[] = {{"epk < 2.1", "epk: no column"},
               {"epk_over_eacc", "is not a condition"},
               {"epk_over_eacc = 2.1", "equality is written =="},
               {"epk_over_eacc < 2.1 && q0 = 3", "equality is written =="},
               {"epk_over_eacc <", "is not a valid expression"},
               {"", "is not a condition"}};

START_TEST(what_is_no_condition_is_refused) {
  cavum_scan_filter *filter = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_scan_filter_create(&filter, scan, refused[_i].condition, &error);
  printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_ERR_INPUT);
  ck_assert_ptr_null(filter);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].words));
}
END_TEST

#define run(...) program_run(files.folder, __VA_ARGS__)

// The program: rows by --where, the better end of an aim by :smaller and :larger.
START_TEST(the_program_filters_and_turns_aims) {
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --where 'epk_over_eacc < 2.1' --csv rows.csv "
                       "--aims epk_over_eacc:larger,iris_radius_mm:smaller --json - >s.json"),
                   0);
  ck_assert_int_eq(run("tr -d ' \\n' <s.json | grep -q '\"better\":{\"epk_over_eacc\":\"larger\","
                       "\"contour.iris_radius_mm\":\"smaller\"}'"),
                   0);
  // 100 rows are below 2.1, 10 of them without a ratio.
  ck_assert_int_eq(run("[ $(wc -l <rows.csv) = 91 ]"), 0);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --where 'epk_over_eacc < 2.1' --aims "
                       "epk_over_eacc:larger | grep -q '^90 of 200 shapes where epk_over_eacc'"),
                   0);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --where 'epk < 2.1'"), 2);
  ck_assert_int_eq(program_count_lines(program_read_text(files.folder, "err")), 1);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --aims epk_over_eacc:lower"), 2);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --aims epk_over_eacc,epk_over_eacc:larger"),
                   2);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_unchecked_fixture(tests, set_up, tear_down);
  tcase_add_loop_test(tests, summaries_hold_what_meets_the_condition, 0,
                      sizeof cases / sizeof *cases);
  tcase_add_loop_test(tests, csv_holds_what_meets_the_condition, 0, sizeof cases / sizeof *cases);
  tcase_add_loop_test(tests, what_is_no_condition_is_refused, 0, sizeof refused / sizeof *refused);
  tcase_add_test(tests, the_program_filters_and_turns_aims);
}

CAVUM_TEST_MAIN("scan filter", add_tests)
