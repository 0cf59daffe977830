// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives as columns of a study: each row holds what a solve of its shape gives, with units, in
// the file and in CSV.
#include <math.h>

#include "cavum/cavum.h"
#include "program.h"
#include "study_files.h"
#include "support.h"

#define VARY                                                \
  "cell: cell.yaml\n"                                       \
  "vary: {iris_radius_mm: {from: 33, to: 36, points: 3}}\n" \
  "linked: [right.iris_ellipse.axial_mm = 0.3 * iris_radius_mm + 2]\n"
#define DERIVATIVES "derivatives: [frequency_Hz, geometry_factor_ohm]\n"

static study_files files;

#define run(...) program_run(files.folder, __VA_ARGS__)

static void tear_down(void) { temporary_folder_delete(files.folder); }

static cavum_derivative derivative(const cavum_result *result, const char *key,
                                   cavum_figure_id id) {
  for (int d = 0; d < result->num_dimensions; d++) {
    if (strcmp(result->dimensions[d].key, key) == 0) {
      return cavum_result_derivative(result, 0, d, id);
    }
  }
  ck_abort_msg("no dimension %s", key);
}

// Both in SI, but for the dimension in mm.
static void check_column(const cavum_stored_scan *scan, int64_t row, const cavum_result *result,
                         const char *dimension, const char *figure, cavum_figure_id id) {
  char column[100], of_column[128];
  cavum_derivative expected = derivative(result, dimension, id);
  snprintf(column, sizeof column, "%s_per_%s", figure, dimension);
  snprintf(of_column, sizeof of_column, "%s_uncertainty", column);
  double uncertainty = study_files_value(scan, of_column, row);
  ck_assert_double_gt(uncertainty, 0.0);
  ck_assert_int_eq(expected.state, CAVUM_FIGURE_PRESENT);
  CAVUM_CHECK_NEAR(study_files_value(scan, column, row), 1e-3 * expected.value,
                   1e-3 * expected.uncertainty + uncertainty);
}

// The shape of a row solved by itself, cold.
static void check_row(const cavum_stored_scan *scan, int64_t row, bool held) {
  char *text = NULL;
  cavum_cell cell;
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, row, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), files.cell, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&result, &cell, &options, NULL), CAVUM_OK);
  check_column(scan, row, result, "iris_radius_mm", "frequency_Hz", CAVUM_FIGURE_FREQUENCY);
  check_column(scan, row, result, "iris_radius_mm", "geometry_factor_ohm",
               CAVUM_FIGURE_GEOMETRY_FACTOR);
  check_column(scan, row, result, "right.iris_ellipse.axial_mm", "frequency_Hz",
               CAVUM_FIGURE_FREQUENCY);
  if (held) {
    check_column(scan, row, result, "equator_radius_mm", "geometry_factor_ohm",
                 CAVUM_FIGURE_GEOMETRY_FACTOR);
  }
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  cavum_free(text);
}

static cavum_stored_scan *run_study(const char *text) {
  cavum_stored_scan *scan = NULL;
  study_files_make(&files, STUDY_CELL, text);
  ck_assert_int_eq(run("$CAVUM scan -q study.yaml -o out.hdf --workers 1"), 0);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, NULL), CAVUM_OK);
  return scan;
}

START_TEST(rows_hold_derivatives) {
  cavum_stored_scan *scan = run_study(VARY DERIVATIVES);
  for (int64_t row = 0; row < 3; row++) check_row(scan, row, false);
  int of_frequency = cavum_stored_scan_find(scan, "frequency_Hz_per_iris_radius_mm");
  ck_assert_str_eq(cavum_stored_scan_unit(scan, of_frequency), "Hz mm-1");
  int of_factor = cavum_stored_scan_find(scan, "geometry_factor_ohm_per_iris_radius_mm");
  ck_assert_str_eq(cavum_stored_scan_unit(scan, of_factor), "ohm mm-1");
  cavum_stored_scan_close(&scan);
  ck_assert_int_eq(run("$CAVUM scan --summary out.hdf --csv rows.csv > summary.txt"), 0);
  ck_assert_int_eq(run("head -1 rows.csv | grep -q ,frequency_Hz_per_iris_radius_mm,"), 0);
}
END_TEST

START_TEST(rows_of_a_held_frequency_hold_them_too) {
  cavum_stored_scan *scan =
      run_study(VARY DERIVATIVES "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n");
  for (int64_t row = 0; row < 3; row++) check_row(scan, row, true);
  cavum_stored_scan_close(&scan);
}
END_TEST

// They decide what a row is: a study with others is another one. What has no derivatives is refused
// where it stands.
START_TEST(they_belong_to_the_study) {
  cavum_stored_scan *scan = run_study(VARY DERIVATIVES);
  cavum_study *study = study_files_open(&files);
  ck_assert(cavum_stored_scan_is_of(scan, study));
  cavum_study_close(&study);
  study_files_write(files.study, VARY);
  study = study_files_open(&files);
  ck_assert(!cavum_stored_scan_is_of(scan, study));
  cavum_study_close(&study);
  cavum_stored_scan_close(&scan);
  cavum_error error = {0};
  study_files_write(files.study, VARY "derivatives: [beta_of_largest_r_over_q]\n");
  ck_assert_int_eq(cavum_study_open(&study, files.study, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "study.yaml:4:"));
  ck_assert_ptr_nonnull(strstr(error.message, "is not differentiated"));
}
END_TEST

static void add(TCase *tests) {
  tcase_add_checked_fixture(tests, NULL, tear_down);
  tcase_add_test(tests, rows_hold_derivatives);
  tcase_add_test(tests, rows_of_a_held_frequency_hold_them_too);
  tcase_add_test(tests, they_belong_to_the_study);
}

CAVUM_TEST_MAIN("scan derivatives", add)
