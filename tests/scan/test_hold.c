// SPDX-License-Identifier: GPL-3.0-or-later
// A held frequency: every row of a scan is solved again, cold, by another route: its inputs written
// into the text of the cell file.
#include <string.h>
#include <unistd.h>

#include "cavum/cavum.h"
#include "study_files.h"
#include "support.h"

#define CELL_SHAPE                                           \
  "contour:\n"                                               \
  "  kind: two-ellipse\n"                                    \
  "  half_length_mm: 57.7\n"                                 \
  "  iris_radius_mm: %.17g\n"                                \
  "  equator_radius_mm: %.17g\n"                             \
  "  equator_ellipse: {axial_mm: %.17g, radial_mm: %.17g}\n" \
  "  iris_ellipse: {axial_mm: 12.0, radial_mm: 19.0}\n"      \
  "ends:\n"                                                  \
  "  left: {kind: magnetic}\n"                               \
  "  right: {kind: magnetic}\n"
#define CELL_FORMAT CELL_SHAPE "accuracy: {frequency: 1.0e-6, other_figures: 1.0e-3}\n"
#define COARSE_CELL_FORMAT CELL_SHAPE "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n"

enum { SHAPES = 24 };
static const double TARGET_HZ = 1300e6;

static study_files files;

static void check_row(const cavum_stored_scan *scan, int64_t row) {
  char text[1024];
  cavum_cell cell;
  cavum_result *cold = NULL;
  snprintf(text, sizeof text, CELL_FORMAT, study_files_value(scan, "contour.iris_radius_mm", row),
           study_files_value(scan, "contour.equator_radius_mm", row),
           study_files_value(scan, "contour.equator_ellipse.axial_mm", row),
           study_files_value(scan, "contour.equator_ellipse.radial_mm", row));
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), "cell", NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_solve(&cold, &cell, NULL, NULL), CAVUM_OK);
  const cavum_figure *figures = cold->modes[0].figures;
  // What both solves say they may be off, no more.
  double allowed_hz = figures[CAVUM_FIGURE_FREQUENCY].uncertainty +
                      study_files_value(scan, "frequency_Hz_uncertainty", row);
  CAVUM_CHECK_NEAR(figures[CAVUM_FIGURE_FREQUENCY].value,
                   study_files_value(scan, "frequency_Hz", row), allowed_hz);
  double allowed = figures[CAVUM_FIGURE_R_OVER_Q_LINAC].uncertainty +
                   study_files_value(scan, "r_over_q_linac_ohm_uncertainty", row);
  CAVUM_CHECK_NEAR(study_files_value(scan, "r_over_q_linac_ohm", row),
                   figures[CAVUM_FIGURE_R_OVER_Q_LINAC].value, allowed);
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
    ck_assert_int_eq((int)study_files_value(scan, "status", row), CAVUM_SHAPE_DONE);
    solves += study_files_value(scan, "solves", row);
    check_row(scan, row);
    // The row is the shape at the held frequency.
    CAVUM_CHECK_NEAR(study_files_value(scan, "frequency_Hz", row), TARGET_HZ,
                     study_files_value(scan, "frequency_Hz_uncertainty", row));
  }
  printf("%.2f solves a shape\n", solves / SHAPES);
  // One to three once a batch is warm; its first shapes know nothing and take more.
  ck_assert(solves <= 3.0 * SHAPES);
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}
END_TEST

// Each shape that was solved tells the next ones where the held dimension lies, along its gradient
// by all that varies: most shapes need one solve.
START_TEST(gradients_of_the_shapes_before_lead_to_the_next) {
  enum { MANY = 128 };
  char cell[1024];
  snprintf(cell, sizeof cell, CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  study_files_make(&files, cell,
                   "cell: cell.yaml\n"
                   "vary:\n"
                   "  iris_radius_mm: {from: 33.0, to: 37.0}\n"
                   "  iris_ellipse.axial_mm: {from: 10.0, to: 13.0}\n"
                   "  iris_ellipse.radial_mm: {from: 15.0, to: 21.0}\n"
                   "  equator_ellipse.axial_mm: {from: 39.0, to: 43.0}\n"
                   "sampling: {kind: sobol, points: 128}\n"
                   "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
                   "batch: 64\n");
  cavum_stored_scan *scan = run_scan();
  double solves = 0.0;
  for (int64_t row = 0; row < MANY; row++) {
    ck_assert_int_eq((int)study_files_value(scan, "status", row), CAVUM_SHAPE_DONE);
    solves += study_files_value(scan, "solves", row);
    CAVUM_CHECK_NEAR(study_files_value(scan, "frequency_Hz", row), TARGET_HZ,
                     study_files_value(scan, "frequency_Hz_uncertainty", row));
  }
  printf("%.2f solves a shape by gradients\n", solves / MANY);
  ck_assert(solves <= 1.2 * MANY);  // 1.4 from planes through the shapes alone
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}
END_TEST

// Where little accuracy is asked for the slope comes from coarse solves, and what is corrected by
// it is as uncertain as they are.
START_TEST(coarse_rows_say_how_far_off_they_are) {
  char cell[1024];
  snprintf(cell, sizeof cell, COARSE_CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  for (int seed = 1; seed <= 8; seed++) {
    char study[1024];
    snprintf(study, sizeof study,
             "cell: cell.yaml\n"
             "vary:\n"
             "  iris_radius_mm: {from: 31.0, to: 44.0}\n"
             "  equator_ellipse.axial_mm: {from: 38.0, to: 43.0}\n"
             "sampling: {kind: sobol, points: 24, seed: %d}\n"
             "linked: [equator_ellipse.radial_mm = equator_ellipse.axial_mm]\n"
             "hold: {frequency_MHz: 1300, by: equator_radius_mm}\n"
             "batch: %d\n",
             seed, 1 + 3 * (seed % 3));
    study_files_make(&files, cell, study);
    cavum_stored_scan *scan = run_scan();
    for (int64_t row = 0; row < SHAPES; row++) {
      if ((int)study_files_value(scan, "status", row) == CAVUM_SHAPE_DONE) check_row(scan, row);
    }
    cavum_stored_scan_close(&scan);
    temporary_folder_delete(files.folder);
  }
}
END_TEST

static void check_mode(const cavum_stored_scan *scan, const char *key, int64_t row,
                       double solved_hz, double uncertainty_hz) {
  char of_key[64];
  snprintf(of_key, sizeof of_key, "%s_uncertainty", key);
  CAVUM_CHECK_NEAR(study_files_value(scan, key, row), solved_hz,
                   study_files_value(scan, of_key, row) + uncertainty_hz);
}

// The coupling follows the iris with a power of four, the frequency hardly: what the last
// correction leaves out of it is in its uncertainty.
START_TEST(the_coupling_of_a_held_iris) {
  char cell[1024];
  snprintf(cell, sizeof cell, CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  char *accuracy = strstr(cell, "1.0e-6");
  ck_assert_ptr_nonnull(accuracy);
  accuracy[5] = '4';
  study_files_make(&files, cell,
                   "cell: cell.yaml\n"
                   "coupling: yes\n"
                   "vary: {equator_radius_mm: {from: 103.1, to: 103.6}}\n"
                   "sampling: {kind: sobol, points: 24}\n"
                   "hold: {frequency_MHz: 1300, by: iris_radius_mm}\n"
                   "batch: 3\n");
  cavum_stored_scan *scan = run_scan();
  for (int64_t row = 0; row < SHAPES; row++) {
    char text[1024];
    cavum_cell exact;
    cavum_result *cold = NULL;
    cavum_solve_options options = cavum_solve_options_default();
    options.coupling = true;
    ck_assert_int_eq((int)study_files_value(scan, "status", row), CAVUM_SHAPE_DONE);
    snprintf(text, sizeof text, CELL_FORMAT, study_files_value(scan, "contour.iris_radius_mm", row),
             study_files_value(scan, "contour.equator_radius_mm", row), 42.0, 42.0);
    ck_assert_int_eq(cavum_cell_read_text(&exact, text, strlen(text), "cell", NULL), CAVUM_OK);
    ck_assert_int_eq(cavum_solve(&cold, &exact, &options, NULL), CAVUM_OK);
    CAVUM_CHECK_NEAR(study_files_value(scan, "k_cc", row), cold->coupling.value,
                     study_files_value(scan, "k_cc_uncertainty", row) + cold->coupling.uncertainty);
    check_mode(scan, "zero_mode_frequency_Hz", row, cold->zero_mode_hz,
               cold->zero_mode_uncertainty_hz);
    check_mode(scan, "pi_mode_frequency_Hz", row, cold->pi_mode_hz, cold->pi_mode_uncertainty_hz);
    cavum_result_destroy(&cold);
    cavum_cell_clear(&exact);
  }
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
  ck_assert_int_eq((int)study_files_value(scan, "status", 0), CAVUM_SHAPE_NOT_HELD);
  ck_assert_int_eq((int)study_files_value(scan, "status", 1), CAVUM_SHAPE_NO_SHAPE);
  for (int64_t row = 0; row < 2; row++) {
    ck_assert(isnan(study_files_value(scan, "frequency_Hz", row)));
    ck_assert(isnan(study_files_value(scan, "contour.equator_radius_mm", row)));
  }
  ck_assert_int_le((int)study_files_value(scan, "solves", 0), 4);
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}
END_TEST

#define RANGED_STUDY                                      \
  "cell: cell.yaml\n"                                     \
  "vary:\n"                                               \
  "  equator_ellipse.axial_mm: {from: 41.0, to: 49.0}\n"  \
  "  equator_ellipse.radial_mm: {from: 39.0, to: 70.0}\n" \
  "  iris_ellipse.radial_mm: {from: 14.0, to: 22.0}\n"    \
  "sampling: {kind: sobol, points: 48}\n"                 \
  "hold: {frequency_MHz: 1150, by: equator_radius_mm, from: 90, to: 130}\n"

// Where the first trial has no shape, the range is searched: which rows are done does not depend on
// the batch, and what the batch changes is within the uncertainties.
START_TEST(batches_agree) {
  static const int sizes[] = {1, 8, 48};
  char cell[1024], study[1024];
  cavum_stored_scan *scans[3];
  int done = 0;
  snprintf(cell, sizeof cell, CELL_FORMAT, 35.0, 103.3, 42.0, 42.0);
  for (int i = 0; i < 3; i++) {
    snprintf(study, sizeof study, RANGED_STUDY "batch: %d\n", sizes[i]);
    study_files_make(&files, cell, study);
    scans[i] = run_scan();
    unlink(files.output);
    temporary_folder_delete(files.folder);
  }
  for (int64_t row = 0; row < 48; row++) {
    double status = study_files_value(scans[0], "status", row);
    done += status == CAVUM_SHAPE_DONE;
    for (int i = 1; i < 3; i++) {
      ck_assert_int_eq((int)study_files_value(scans[i], "status", row), (int)status);
      if (status != CAVUM_SHAPE_DONE) {
        ck_assert(isnan(study_files_value(scans[i], "contour.equator_radius_mm", row)));
        continue;
      }
      double slope = fabs(study_files_value(scans[i], "held_slope_Hz_per_mm", row));
      double allowed = study_files_value(scans[i], "frequency_Hz_uncertainty", row) +
                       study_files_value(scans[0], "frequency_Hz_uncertainty", row);
      CAVUM_CHECK_NEAR(slope * study_files_value(scans[i], "contour.equator_radius_mm", row),
                       slope * study_files_value(scans[0], "contour.equator_radius_mm", row),
                       allowed);
      static const char *const keys[] = {"frequency_Hz", "epk_over_eacc", "r_over_q_linac_ohm"};
      for (int k = 0; k < 3; k++) {
        char key[64];
        snprintf(key, sizeof key, "%s_uncertainty", keys[k]);
        CAVUM_CHECK_NEAR(
            study_files_value(scans[i], keys[k], row), study_files_value(scans[0], keys[k], row),
            study_files_value(scans[i], key, row) + study_files_value(scans[0], key, row));
      }
    }
  }
  printf("%d of 48 done\n", done);
  // The others cannot exist, or reach the frequency on no side of where the ellipses overlap.
  ck_assert_int_ge(done, 32);
  for (int i = 0; i < 3; i++) cavum_stored_scan_close(&scans[i]);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, gradients_of_the_shapes_before_lead_to_the_next);
  tcase_add_test(tests, batches_agree);
  tcase_add_test(tests, held_frequency_solved_again_cold);
  tcase_add_test(tests, coarse_rows_say_how_far_off_they_are);
  tcase_add_test(tests, the_coupling_of_a_held_iris);
  tcase_add_test(tests, a_frequency_out_of_reach_is_a_row);
}

CAVUM_TEST_MAIN("hold", add)
