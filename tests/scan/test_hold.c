// SPDX-License-Identifier: GPL-3.0-or-later
// A held frequency: every row of a scan is solved again, cold, by another route: its inputs written
// into the text of the cell file.
#include <string.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "study_files.h"
#include "support.h"

#define CELL_FORMAT                                          \
  "contour:\n"                                               \
  "  kind: two-ellipse\n"                                    \
  "  half_length_mm: 57.7\n"                                 \
  "  iris_radius_mm: %.17g\n"                                \
  "  equator_radius_mm: %.17g\n"                             \
  "  equator_ellipse: {axial_mm: %.17g, radial_mm: %.17g}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"      \
  "ends:\n"                                                  \
  "  left: {kind: magnetic}\n"                               \
  "  right: {kind: magnetic}\n"                              \
  "accuracy: {frequency: 1.0e-6, peak_field: 1.0e-3}\n"

enum { SHAPES = 24 };
static const double target_hz = 1300e6;

static study_files files;

static double read_value(const cavum_stored_scan *scan, const char *key, int64_t row) {
  double value;
  int column = cavum_stored_scan_find(scan, key);
  ck_assert_msg(column >= 0, "%s", key);
  ck_assert_int_eq(cavum_stored_scan_read(&value, scan, column, row, 1, NULL), CAVUM_OK);
  return value;
}

static void check_row(const cavum_stored_scan *scan, int64_t row) {
  char text[1024];
  cavum_cell cell;
  cavum_result *cold = NULL;
  snprintf(text, sizeof text, CELL_FORMAT, read_value(scan, "contour.iris_radius_mm", row),
           read_value(scan, "contour.equator_radius_mm", row),
           read_value(scan, "contour.equator_ellipse.axial_mm", row),
           read_value(scan, "contour.equator_ellipse.radial_mm", row));
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), "cell", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&cold, &cell, NULL, NULL), CAVUM_OK);
  const cavum_figure *figures = cold->modes[0].figures;
  // The accuracy asked for of the held frequency, and what both solves say they may be off.
  double frequency_slack = figures[CAVUM_FIGURE_FREQUENCY].uncertainty +
                           read_value(scan, "frequency_Hz_uncertainty", row);
  CAVUM_CHECK_NEAR(figures[CAVUM_FIGURE_FREQUENCY].value, target_hz,
                   1e-6 * target_hz + frequency_slack);
  double slack = figures[CAVUM_FIGURE_R_OVER_Q_LINAC].uncertainty +
                 read_value(scan, "r_over_q_linac_ohm_uncertainty", row);
  CAVUM_CHECK_NEAR(read_value(scan, "r_over_q_linac_ohm", row),
                   figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value, slack);
  cavum_result_destroy(&cold);
  cavum_cell_clear(&cell);
}

static cavum_stored_scan *run_scan(void) {
  cavum_scan_records *records = NULL;
  cavum_stored_scan *scan = NULL;
  cavum_scan_options options = cavum_scan_options_default();
  cavum_error error = {0};
  options.workers = 2;
  cavum_study *study = study_files_open(&files);
  cavum_status status = cavum_scan_run(NULL, study, files.output, &options, &error);
  if (status == CAVUM_OK) status = cavum_scan_records_open(&records, study, files.output, &error);
  if (status == CAVUM_OK) status = cavum_store_write_scan(files.output, study, records, &error);
  if (status == CAVUM_OK) status = cavum_stored_scan_open(&scan, files.output, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
  return scan;
}

START_TEST(held_frequency_solved_again_cold) {
  char cell[1024];
  snprintf(cell, sizeof cell, CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  study_files_make(&files, cell,
                   "cell: cell.yaml\n"
                   "vary:\n"
                   "  iris_radius_mm: {from: 32.0, to: 38.0}\n"
                   "  equator_ellipse.axial_mm: {from: 38.0, to: 43.0}\n"
                   "sampling: {kind: sobol, points: 24}\n"
                   "linked: [equator_ellipse.radial_mm = equator_ellipse.axial_mm]\n"
                   "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                   "batch: 12\n");
  cavum_stored_scan *scan = run_scan();
  double solves = 0.0;
  for (int64_t row = 0; row < SHAPES; row++) {
    ck_assert_int_eq((int)read_value(scan, "status", row), CAVUM_SHAPE_DONE);
    solves += read_value(scan, "solves", row);
    check_row(scan, row);
  }
  printf("%.2f solves a shape\n", solves / SHAPES);
  // One to three once a batch is warm; its first shapes know nothing and take more.
  ck_assert(solves <= 3.0 * SHAPES);
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}
END_TEST

// No equator of 103 to 104 mm gives 1200 MHz: a row with its reason.
START_TEST(a_frequency_out_of_reach_is_a_row) {
  char cell[1024];
  snprintf(cell, sizeof cell, CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  study_files_make(&files, cell,
                   "cell: cell.yaml\nvary: {iris_radius_mm: [34.0, 500.0]}\n"
                   "hold: {frequency_MHz: 1200, by: equator_radius_mm, from: 103, to: 104}\n");
  cavum_stored_scan *scan = run_scan();
  ck_assert_int_eq((int)read_value(scan, "status", 0), CAVUM_SHAPE_NOT_HELD);
  ck_assert_int_eq((int)read_value(scan, "status", 1), CAVUM_SHAPE_NO_SHAPE);
  ck_assert(isnan(read_value(scan, "frequency_Hz", 1)));
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, held_frequency_solved_again_cold);
  tcase_add_test(tests, a_frequency_out_of_reach_is_a_row);
}

CAVUM_TEST_MAIN("hold", add)
