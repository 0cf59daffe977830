// SPDX-License-Identifier: GPL-3.0-or-later
// A held frequency with several modes: a row's dimension is corrected after its last solve, and the
// figures of the other modes may follow that more than those of the first, whose part of another
// mode is small. Against solves of the cells of the rows at a hundred times the accuracy.
#include <math.h>

#include "cavum/cavum.h"
#include "figures/stored_figure.h"
#include "program.h"
#include "study_files.h"
#include "support.h"

// Wide ranges, so that modes come close and have little voltage.
static const char CELL[] =
    "beta: 0.75\n"
    "contour:\n"
    "  kind: two-ellipse\n"
    "  half_length_mm: 69.8\n"
    "  iris_radius_mm: 49.0\n"
    "  equator_radius_mm: 166.0\n"
    "  equator_ellipse: {axial_mm: 41.0, radial_mm: 47.0}\n"
    "  iris_ellipse: {axial_mm: 15.5, radial_mm: 24.0}\n"
    "ends:\n"
    "  left: {kind: magnetic}\n"
    "  right: {kind: magnetic}\n"
    "modes: {count: 3}\n";
static const char STUDY[] =
    "cell: cell.yaml\n"
    "vary:\n"
    "  half_length_mm: {from: 60.0, to: 80.0}\n"
    "  iris_radius_mm: {from: 30.0, to: 70.0}\n"
    "  iris_ellipse.axial_mm: {from: 6.0, to: 25.0}\n"
    "  iris_ellipse.radial_mm: {from: 8.0, to: 40.0}\n"
    "  equator_ellipse.axial_mm: {from: 20.0, to: 55.0}\n"
    "  equator_ellipse.radial_mm: {from: 20.0, to: 70.0}\n"
    "sampling: {kind: sobol, points: 48, seed: 11}\n"
    "hold: {frequency_MHz: 805.0, by: equator_radius_mm}\n"
    "modes: {count: 3}\n"
    "coupling: yes\n"
    "batch: 16\n";
enum { FIRST = 32, ROWS = 48, MODES = 3 };

static study_files files;

static void tear_down(void) { temporary_folder_delete(files.folder); }

static cavum_result *solve_well(const cavum_stored_scan *scan, int64_t row) {
  char *text = NULL;
  cavum_cell cell;
  cavum_result *result = NULL;
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, row, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), files.cell, NULL), CAVUM_OK);
  cell.num_modes = MODES;
  cell.accuracy_frequency = 1e-8;
  cell.accuracy_other_figures = 1e-6;
  (void)cavum_solve(&result, &cell, NULL, NULL);
  ck_assert_ptr_nonnull(result);
  cavum_cell_clear(&cell);
  cavum_free(text);
  return result;
}

// Compares figures that know the voltage, the field on the wall, or the frequency alone. The
// largest part of a figure that an uncertainty is goes into `largest`.
static int check_row(double *largest, const cavum_stored_scan *scan, int64_t row) {
  static const cavum_figure_id ids[] = {CAVUM_FIGURE_FREQUENCY, CAVUM_FIGURE_R_OVER_Q_LINAC,
                                        CAVUM_FIGURE_GEOMETRY_FACTOR,
                                        CAVUM_FIGURE_TRANSIT_TIME_FACTOR};
  static const char *const names[MODES] = {"", "modes[1].", "modes[2]."};
  char key[128];
  int compared = 0;
  cavum_result *result = solve_well(scan, row);
  for (int mode = 0; mode < MODES; mode++) {
    for (size_t i = 0; i < sizeof ids / sizeof *ids; i++) {
      const char *name = cavum_figure_describe(ids[i]).key;
      cavum_figure figure = cavum_stored_figure_make(&result->modes[mode].figures[ids[i]], ids[i]);
      snprintf(key, sizeof key, "%s%s", names[mode], name);
      double value = study_files_value(scan, key, row);
      snprintf(key, sizeof key, "%s%s_uncertainty", names[mode], name);
      double uncertainty = study_files_value(scan, key, row);
      if (!isfinite(value) || figure.state != CAVUM_FIGURE_PRESENT) continue;
      printf("row %d %s%s: ", (int)row, names[mode], name);
      CAVUM_CHECK_NEAR(value, figure.value, uncertainty + figure.uncertainty);
      *largest = fmax(*largest, uncertainty / fabs(value));
      compared++;
    }
  }
  cavum_result_destroy(&result);
  return compared;
}

START_TEST(figures_of_other_modes_are_within_their_uncertainties) {
  cavum_stored_scan *scan = NULL;
  double largest = 0.0;
  int compared = 0;
  study_files_make(&files, CELL, STUDY);
  ck_assert_int_eq(program_run(files.folder, "$CAVUM scan -q study.yaml -o out.hdf"), 0);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, NULL), CAVUM_OK);
  // The last batch has shapes whose third mode follows by ten times the part of the dimension.
  for (int64_t row = FIRST; row < ROWS; row++) {
    if (study_files_value(scan, "status", row) == 0.0) compared += check_row(&largest, scan, row);
  }
  cavum_stored_scan_close(&scan);
  ck_assert_int_ge(compared, 100);
  // Nor are they too large to be of use: the accuracy that was asked for is 1e-4.
  printf("largest uncertainty %.3g of a figure\n", largest);
  ck_assert_double_le(largest, 2e-4);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_checked_fixture(tests, NULL, tear_down);
  tcase_add_test(tests, figures_of_other_modes_are_within_their_uncertainties);
}

CAVUM_TEST_MAIN("scan held modes", add_tests)
