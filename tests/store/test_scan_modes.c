// SPDX-License-Identifier: GPL-3.0-or-later
// Several modes a row: the columns of each hold what a solve of the shape gives for it, and are
// read by limits, conditions, aims, CSV and summary under their names.
#include <math.h>

#include "cavum/cavum.h"
#include "program.h"
#include "study_files.h"
#include "support.h"

#define CELL STUDY_CELL "modes: {count: 3}\n"
#define VARY "cell: cell.yaml\nvary: {iris_radius_mm: {from: 33, to: 36, points: 4}}\n"

static study_files files;

#define run(...) program_run(files.folder, __VA_ARGS__)

static void tear_down(void) { temporary_folder_delete(files.folder); }

// A study of which no shape is done has a result, too, and ends with 1.
static cavum_stored_scan *run_study_of(const char *cell, const char *text) {
  cavum_stored_scan *scan = NULL;
  study_files_make(&files, cell, text);
  int ended = program_run(files.folder, "$CAVUM scan -q study.yaml -o out.hdf --workers 1");
  ck_assert(ended == 0 || ended == 1);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, NULL), CAVUM_OK);
  return scan;
}

static cavum_stored_scan *run_study(const char *text) { return run_study_of(CELL, text); }

// The shape of a row solved by itself: a solver that has solved others may stop at another degree,
// so both are right within the sum of what they state.
static void check_row(const cavum_stored_scan *scan, int64_t row, const char *const names[3]) {
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_GEOMETRY_FACTOR};
  static const char *const keys[] = {"frequency_Hz", "geometry_factor_ohm"};
  char *text = NULL, key[128];
  cavum_cell cell;
  cavum_result *result = NULL;
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, row, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), files.cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  for (int mode = 0; mode < 3; mode++) {
    for (int i = 0; i < 2; i++) {
      cavum_figure figure = result->modes[mode].figures[ids[i]];
      snprintf(key, sizeof key, "%s%s", names[mode], keys[i]);
      double value = study_files_value(scan, key, row);
      snprintf(key, sizeof key, "%s%s_uncertainty", names[mode], keys[i]);
      double uncertainty = study_files_value(scan, key, row);
      CAVUM_CHECK_NEAR(value, figure.value, uncertainty + figure.uncertainty);
      ck_assert_double_gt(uncertainty, 0.0);
    }
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  cavum_free(text);
}

START_TEST(each_mode_has_its_figures) {
  static const char *const names[3] = {"", "modes[1].", "modes[2]."};
  cavum_stored_scan *scan = run_study(VARY "modes: {count: 3}\n");
  for (int64_t row = 0; row < 4; row++) check_row(scan, row, names);
  // The study's own mode by its number, and none that is not kept.
  ck_assert_int_eq(cavum_stored_scan_find(scan, "modes[0].frequency_Hz"),
                   cavum_stored_scan_find(scan, "frequency_Hz"));
  ck_assert_int_eq(cavum_stored_scan_find(scan, "modes[3].frequency_Hz"), -1);
  ck_assert_int_ge(cavum_stored_scan_find(scan, "modes[1].epk_over_eacc_at_z_m"), 0);
  cavum_stored_scan_close(&scan);
}
END_TEST

START_TEST(any_mode_may_be_that_of_the_study) {
  static const char *const names[3] = {"modes[0].", "", "modes[2]."};
  cavum_stored_scan *scan = run_study(VARY "mode: 2\nmodes: {count: 3}\n");
  check_row(scan, 0, names);
  ck_assert_int_eq(cavum_stored_scan_find(scan, "modes[1].frequency_Hz"),
                   cavum_stored_scan_find(scan, "frequency_Hz"));
  cavum_stored_scan_close(&scan);
}
END_TEST

// The labels of a row are those of the solve of its shape: as codes in the file, as words in CSV
// and in conditions.
START_TEST(each_mode_has_its_label) {
  cavum_cell cell;
  cavum_result *result = NULL;
  char text[16];
  cavum_stored_scan *scan = run_study(VARY "modes: {count: 3}\nfigures: [frequency_Hz]\n");
  ck_assert_int_eq(cavum_cell_read_file(&cell, files.cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  static const char *const names[3] = {"mode_label", "modes[1].mode_label", "modes[2].mode_label"};
  for (int mode = 0; mode < 3; mode++) {
    int code = (int)study_files_value(scan, names[mode], 0);
    snprintf(text, sizeof text, "TM0%d", code);
    ck_assert_str_eq(text, result->modes[mode].label);
    ck_assert_int_ge(code, 10);
  }
  ck_assert_int_eq(cavum_stored_scan_find(scan, "modes[0].mode_label"),
                   cavum_stored_scan_find(scan, "mode_label"));
  cavum_stored_scan_close(&scan);
  ck_assert_str_eq(result->modes[0].label, "TM010");
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --csv rows.csv --where 'mode_label == TM010' "
                       ">s.txt"),
                   0);
  ck_assert_int_eq(run("grep -c ',TM010,TM0..,TM0..,$' rows.csv | grep -qx 4"), 0);
  ck_assert_int_eq(
      run("$CAVUM scan --summary out.hdf --where 'mode_label == TM020' | grep '^0 of 4'"), 0);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// A held frequency is that of the study's mode; the others are there as well.
START_TEST(held_rows_have_all_modes) {
  static const char *const names[3] = {"", "modes[1].", "modes[2]."};
  cavum_stored_scan *scan =
      run_study(VARY "modes: {count: 3}\nhold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n");
  for (int64_t row = 0; row < 4; row++) {
    check_row(scan, row, names);
    CAVUM_CHECK_NEAR(study_files_value(scan, "frequency_Hz", row), 1300e6,
                     study_files_value(scan, "frequency_Hz_uncertainty", row));
  }
  cavum_stored_scan_close(&scan);
}
END_TEST

// Rows of one mode are what they were: the key alone changes no byte of them.
START_TEST(one_mode_is_as_without_the_key) {
  char first[256];
  cavum_stored_scan *scan = run_study(VARY "modes: {count: 1}\n");
  ck_assert_int_eq(cavum_stored_scan_find(scan, "modes[0].frequency_Hz"), -1);
  snprintf(first, sizeof first, "%s", cavum_stored_scan_fingerprint(scan));
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
  scan = run_study(VARY);
  ck_assert_str_eq(cavum_stored_scan_fingerprint(scan), first);
  cavum_stored_scan_close(&scan);
}
END_TEST

static void check_same(const cavum_stored_scan *one, const cavum_stored_scan *other,
                       const char *const *keys) {
  for (int64_t row = 0; row < 4; row++) {
    ck_assert_int_eq((int)study_files_value(one, "status", row), CAVUM_SHAPE_DONE);
    for (int i = 0; keys[i]; i++) {
      double expected = study_files_value(one, keys[i], row);
      ck_assert_msg(expected == study_files_value(other, keys[i], row), "%s of row %d", keys[i],
                    (int)row);
    }
  }
}

// Modes that the cell asks for and no row keeps are not solved for: rows are the same to the bit.
START_TEST(modes_that_no_row_keeps_change_none) {
  static const char *const keys[] = {"frequency_Hz",
                                     "frequency_Hz_uncertainty",
                                     "geometry_factor_ohm",
                                     "frequency_Hz_per_iris_radius_mm",
                                     "geometry_factor_ohm_per_iris_radius_mm",
                                     NULL};
  const char *const study = VARY "derivatives: [frequency_Hz, geometry_factor_ohm]\n";
  cavum_stored_scan *one = run_study_of(STUDY_CELL "modes: {count: 1}\n", study);
  char folder[sizeof files.folder];
  snprintf(folder, sizeof folder, "%s", files.folder);
  cavum_stored_scan *other = run_study_of(STUDY_CELL "modes: {count: 4}\n", study);
  check_same(one, other, keys);
  cavum_stored_scan_close(&one);
  cavum_stored_scan_close(&other);
  temporary_folder_delete(folder);
}
END_TEST

// The modes nearest to a frequency are all solved for, since they tell which ones those are.
START_TEST(modes_near_a_frequency_are_those_of_the_cell) {
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_stored_scan *scan =
      run_study_of(STUDY_CELL "modes: {count: 3, near_MHz: 3000}\n", VARY "mode: 1\n");
  char *text = NULL;
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, 0, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), files.cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  ck_assert_int_eq(result->num_modes, 3);
  cavum_figure figure = result->modes[0].figures[CAVUM_FIGURE_FREQUENCY];
  CAVUM_CHECK_NEAR(study_files_value(scan, "frequency_Hz", 0), figure.value,
                   figure.uncertainty + study_files_value(scan, "frequency_Hz_uncertainty", 0));
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  cavum_free(text);
  cavum_stored_scan_close(&scan);
}
END_TEST

START_TEST(columns_of_modes_are_read_everywhere) {
  cavum_stored_scan *scan = run_study(
      VARY
      "modes: {count: 3}\nlimits: {where: [\"modes[1].frequency_Hz > modes[0].frequency_Hz\", "
      "\"modes[2].frequency_Hz - frequency_Hz > 1e6\"]}\n");
  for (int64_t row = 0; row < 4; row++) {
    ck_assert_int_eq((int)study_files_value(scan, "status", row), CAVUM_SHAPE_DONE);
  }
  cavum_stored_scan_close(&scan);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --csv rows.csv --aims "
                       "'modes[1].q0:larger,modes[1].epk_over_eacc' --where "
                       "'modes[1].frequency_Hz > 2 * frequency_Hz' >s.txt"),
                   2);  // no wall, no Q0
  ck_assert_int_eq(
      run("$CAVUM scan --summary out.hdf --csv rows.csv --where 'modes[2].frequency_Hz > 0' --aims "
          "'modes[2].geometry_factor_ohm,modes[1].frequency_Hz:smaller' --json - >s.json"),
      0);
  ck_assert_int_eq(run("[ $(wc -l <rows.csv) = 5 ]"), 0);
  ck_assert_int_eq(run("head -1 rows.csv | grep -q 'modes\\[2\\]\\.frequency_Hz_uncertainty'"), 0);
  ck_assert_int_eq(
      run("tr -d ' \\n' <s.json | grep -q '\"better\":{\"modes\\[2\\]."
          "geometry_factor_ohm\":\"larger\",\"modes\\[1\\].frequency_Hz\":\"smaller\"'"),
      0);
}
END_TEST

START_TEST(a_limit_in_another_mode_excludes) {
  cavum_stored_scan *scan =
      run_study(VARY "modes: {count: 2}\nlimits: {where: [\"modes[1].frequency_Hz < 1\"]}\n");
  ck_assert_int_eq((int)study_files_value(scan, "status", 0), CAVUM_SHAPE_EXCLUDED);
  cavum_stored_scan_close(&scan);
}
END_TEST

static const struct {
  const char *text, *words;
} refused[] = {
    {"modes: {count: 4}\n", "modes.count: the cell file asks for 3 modes only"},
    {"modes: {count: 2}\nmode: 3\n", "'mode: 3' is not among 2 modes"},
    {"modes: {count: 0}\n", "modes.count"},
    {"modes: {count: 2}\nlimits: {where: [\"modes[2].frequency_Hz > 1\"]}\n", "modes[2]"},
    {"modes: {count: 2}\nfigures: [frequency_Hz]\nlimits: {where: [\"modes[1].q0 > 1\"]}\n",
     "does not keep it"},
};

START_TEST(what_is_not_kept_is_refused) {
  char text[512];
  cavum_study *study = NULL;
  cavum_error error = {0};
  snprintf(text, sizeof text, "%s%s", VARY, refused[_i].text);
  study_files_make(&files, CELL, text);
  ck_assert_int_eq(cavum_study_open(&study, files.study, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].words));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, NULL, tear_down);
  tcase_add_test(tests, each_mode_has_its_figures);
  tcase_add_test(tests, any_mode_may_be_that_of_the_study);
  tcase_add_test(tests, each_mode_has_its_label);
  tcase_add_test(tests, modes_that_no_row_keeps_change_none);
  tcase_add_test(tests, modes_near_a_frequency_are_those_of_the_cell);
  tcase_add_test(tests, held_rows_have_all_modes);
  tcase_add_test(tests, one_mode_is_as_without_the_key);
  tcase_add_test(tests, columns_of_modes_are_read_everywhere);
  tcase_add_test(tests, a_limit_in_another_mode_excludes);
  tcase_add_loop_test(tests, what_is_not_kept_is_refused, 0, sizeof refused / sizeof *refused);
}

CAVUM_TEST_MAIN("scan modes", add)
