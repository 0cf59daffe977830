// SPDX-License-Identifier: GPL-3.0-or-later
// The cell file of a row: solved by itself, it has the figures of the row within the uncertainties
// of both.
#include <math.h>
#include <string.h>

#include "cavum/cavum.h"
#include "figures/stored_figure.h"
#include "study_files.h"
#include "support.h"

static study_files files;

// Computes a study of a cell and opens its result.
static cavum_stored_scan *compute(const char *cell, const char *text) {
  cavum_error error = {0};
  cavum_scan_records *records = NULL;
  cavum_stored_scan *scan = NULL;
  study_files_make(&files, cell, text);
  cavum_study *study = study_files_open(&files);
  cavum_scan_options options = cavum_scan_options_default();
  options.workers = 1;
  cavum_status status = cavum_scan_run(NULL, study, files.output, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(cavum_scan_records_open(&records, study, files.output, &error), CAVUM_OK);
  ck_assert_int_eq(cavum_store_write_scan(files.output, study, records, &error), CAVUM_OK);
  cavum_scan_records_close(&records);
  cavum_study_close(&study);
  ck_assert_int_eq(cavum_stored_scan_open(&scan, files.output, &error), CAVUM_OK);
  return scan;
}

static void finish(cavum_stored_scan *scan) {
  cavum_stored_scan_close(&scan);
  temporary_folder_delete(files.folder);
}

static cavum_cell cell_of(const cavum_stored_scan *scan, int64_t shape) {
  char *text = NULL;
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_stored_scan_shape_to_text(&text, scan, shape, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%s", text);
  ck_assert_int_eq(cavum_cell_read_text(&cell, text, strlen(text), "text", &error), CAVUM_OK);
  free(text);
  return cell;
}

// Solves the cell of a row and compares every figure that the row has.
static void check_row(const cavum_stored_scan *scan, int64_t shape) {
  char key[128];
  cavum_error error = {0};
  cavum_result *result = NULL;
  cavum_cell cell = cell_of(scan, shape);
  cavum_status status = cavum_solve(&result, &cell, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  int compared = 0;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)id);
    // A scan has figures in the unit of their key.
    cavum_figure stored =
        cavum_stored_figure_make(&result->modes[0].figures[id], (cavum_figure_id)id);
    const cavum_figure *figure = &stored;
    if (cavum_stored_scan_find(scan, info.key) < 0) continue;
    double value = study_files_value(scan, info.key, shape);
    snprintf(key, sizeof key, "%s_uncertainty", info.key);
    double uncertainty = study_files_value(scan, key, shape);
    if (!isfinite(value) || figure->state != CAVUM_FIGURE_PRESENT) continue;
    printf("%s: ", info.key);
    // Both hold the true value; a part in 1e14 is arithmetic, for figures without an uncertainty.
    CAVUM_CHECK_NEAR(figure->value, value, uncertainty + figure->uncertainty + 1e-14 * fabs(value));
    compared++;
  }
  ck_assert_int_ge(compared, 5);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}

// Varied, linked and held numbers, with a frequency to hold that the cell must have.
START_TEST(a_row_with_a_held_frequency_becomes_its_cell) {
  cavum_stored_scan *scan = compute(TEST_CELL,
                                    "title: Irises\ncell: cell.yaml\n"
                                    "vary: {iris_radius_mm: {from: 33.0, to: 37.0, points: 3}}\n"
                                    "linked: ['iris_ellipse.axial_mm = iris_radius_mm / 3']\n"
                                    "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n");
  for (int64_t shape = 0; shape < 3; shape++) {
    cavum_cell cell = cell_of(scan, shape);
    // To the bit: what the study set is what the file of the cell says.
    CAVUM_CHECK_NEAR(cell.left.iris_radius_m,
                     study_files_value(scan, "contour.iris_radius_mm", shape) / 1e3, 0.0);
    CAVUM_CHECK_NEAR(cell.right.iris_axial_m,
                     study_files_value(scan, "contour.iris_ellipse.axial_mm", shape) / 1e3, 0.0);
    CAVUM_CHECK_NEAR(cell.left.equator_radius_m,
                     study_files_value(scan, "contour.equator_radius_mm", shape) / 1e3, 0.0);
    cavum_cell_clear(&cell);
  }
  check_row(scan, 1);
  finish(scan);
}
END_TEST

// Numbers that are set in the text of the file, and a tube that follows its iris.
START_TEST(a_row_of_an_end_cell_becomes_its_cell) {
  cavum_stored_scan *scan =
      compute(STUDY_END_CELL "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n",
              "cell: cell.yaml\n"
              "vary: {right.iris_radius_mm: [36.0, 38.5]}\n"
              "linked: [beta = 0.9]\n");
  cavum_cell cell = cell_of(scan, 1);
  CAVUM_CHECK_NEAR(cell.right_end.tube_radius_m, 38.5 / 1e3, 0.0);
  CAVUM_CHECK_NEAR(cell.beta, 0.9, 0.0);
  cavum_cell_clear(&cell);
  check_row(scan, 1);
  finish(scan);
}
END_TEST

// A tube that the file states to be as wide as its iris stays so, in the row and in the text of its
// cell; and it goes its own way where the study sets it.
START_TEST(a_stated_tube_follows_its_iris) {
  static const char base[] = TEST_CELL_CONTOUR
      "  right: {iris_radius_mm: 36.5}   # this comment stays\n"
      "ends:\n"
      "  left: {kind: magnetic}\n"
      "  right: {kind: tube, length_mm: 120.0, radius_mm: 36.5, close: electric}\n"
      "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n";
  static const struct {
    const char *study;
    double tube_mm;
  } of[] = {{"cell: cell.yaml\nvary: {right.iris_radius_mm: [36.0, 38.5]}\n", 38.5},
            {"cell: cell.yaml\nvary: {right.iris_radius_mm: [36.0, 38.5]}\n"
             "linked: [ends.right.radius_mm = 36.5]\n",
             36.5}};
  for (size_t i = 0; i < sizeof of / sizeof *of; i++) {
    char *text = NULL;
    cavum_stored_scan *scan = compute(base, of[i].study);
    cavum_cell cell = cell_of(scan, 1);
    CAVUM_CHECK_NEAR(cell.right.iris_radius_m, 38.5 / 1e3, 0.0);
    CAVUM_CHECK_NEAR(cell.right_end.tube_radius_m, of[i].tube_mm / 1e3, 0.0);
    cavum_cell_clear(&cell);
    check_row(scan, 1);
    ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, 1, NULL), CAVUM_OK);
    // One that both set it and change the iris is written anew.
    ck_assert(i > 0 || strstr(text, "# this comment stays"));
    free(text);
    finish(scan);
  }
}
END_TEST

// What the rows were judged by, in any form of YAML, and the tolerances.
START_TEST(a_row_has_the_requirements_and_tolerances_of_its_base) {
  static const char base[] = STUDY_CELL
      "requirements:\n  epk_over_eacc: {most: 2.5}  # of the magnet\n  frequency_MHz: {least: "
      "1.0e+2,\n    most: 2000}\n"
      "tolerances: {iris_radius_mm: {normal: 0.1}, 'half_length_mm': {uniform: 0.2}}\n";
  cavum_error error = {0};
  char *text = NULL;
  cavum_requirements *wanted = NULL, *found = NULL;
  cavum_tolerances *kept = NULL;
  cavum_stored_scan *scan =
      compute(base, "cell: cell.yaml\nvary: {iris_radius_mm: [35.0, 36.0]}\n");
  cavum_status status = cavum_stored_scan_shape_to_text(&text, scan, 1, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%s", text);
  ck_assert_int_eq(cavum_requirements_read_text(&wanted, base, strlen(base), "base", &error), 0);
  status = cavum_requirements_read_text(&found, text, strlen(text), "row", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(found->count, 2);
  for (int i = 0; i < 2; i++) {
    ck_assert_str_eq(found->list[i].key, wanted->list[i].key);
    CAVUM_CHECK_NEAR(found->list[i].most, wanted->list[i].most, 0.0);
  }
  cavum_cell cell = cell_of(scan, 1);
  status = cavum_tolerances_read_text(&kept, &cell, text, strlen(text), "row", &error);
  cavum_cell_clear(&cell);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(kept->count, 2);
  CAVUM_CHECK_NEAR(kept->list[0].width, 0.1, 0.0);
  ck_assert_int_eq(kept->list[1].kind, CAVUM_TOLERANCE_UNIFORM);
  cavum_requirements_destroy(&wanted);
  cavum_requirements_destroy(&found);
  cavum_tolerances_destroy(&kept);
  free(text);
  finish(scan);
}
END_TEST

static char *text_of(const cavum_stored_scan *scan, int64_t shape) {
  char *text = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_stored_scan_shape_to_text(&text, scan, shape, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  printf("%s", text);
  return text;
}

static int count_of(const char *text, const char *what) {
  int count = 0;
  for (const char *at = strstr(text, what); at; at = strstr(at + 1, what)) count++;
  return count;
}

// The row that is the base cell, in any form of YAML: each section once, and it can be read.
START_TEST(the_row_of_the_base_cell_has_its_sections_once) {
  static const char *const sections[] = {
      "requirements: {epk_over_eacc: {most: 2.5}}\ntolerances: {iris_radius_mm: {normal: 0.1}}\n",
      "requirements: # first\r\n    epk_over_eacc:\r\n        most: 2.4 # a comment\r\n",
      "\"requirements\": {\"epk_over_eacc\": {\"most\": 2.4}}\n...\n"};
  for (size_t i = 0; i < sizeof sections / sizeof *sections; i++) {
    char base[2048];
    snprintf(base, sizeof base, "\xef\xbb\xbf---\n%s%s", STUDY_CELL, sections[i]);
    cavum_stored_scan *scan =
        compute(base, "cell: cell.yaml\nvary: {iris_radius_mm: [35.0, 36]}\n");
    for (int64_t shape = 0; shape < 2; shape++) {
      char *text = text_of(scan, shape);
      cavum_cell cell = cell_of(scan, shape);
      ck_assert_int_eq(count_of(text, "requirements"), 1);
      ck_assert_int_eq(count_of(text, "tolerances"), i == 0);
      cavum_cell_clear(&cell);
      free(text);
    }
    finish(scan);
  }
}
END_TEST

// A wall that was moved: its numbers are set in the text, which is kept.
START_TEST(rows_of_a_moved_cell_have_its_sections_once) {
  static const char base[] = TEST_CELL_CONTOUR
      "  moved:\n    - {offset_mm: 0.1}  # etched\n"
      "ends: {left: {kind: magnetic}, right: {kind: magnetic}}\n"
      "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n"
      "requirements: {epk_over_eacc: {most: 2.5}}\n";
  cavum_stored_scan *scan =
      compute(base, "cell: cell.yaml\nvary: {'moved[1].offset_mm': [0.05, 0.1]}\n");
  for (int64_t shape = 0; shape < 2; shape++) {
    char *text = text_of(scan, shape);
    cavum_cell cell = cell_of(scan, shape);
    ck_assert_int_eq(count_of(text, "requirements"), 1);
    ck_assert_int_eq(count_of(text, "# etched"), 1);
    ck_assert_int_eq(count_of(text, shape ? "offset_mm: 0.1}" : "offset_mm: 0.05}"), 1);
    cavum_cell_clear(&cell);
    free(text);
  }
  finish(scan);
}
END_TEST

// The form of a path stays, also where a member of the cell is varied with it, so that the same
// study can be made of a row; numbers of halves that the text does not state are written anew.
START_TEST(a_row_of_a_path_keeps_its_form) {
  static const char base[] =
      "beta: 0.9\n"
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 60, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 60, r_mm: 80}, boundary: metal}  # lid\n"
      "    - {arc_to: {z_mm: 40, r_mm: 100}, centre: {z_mm: 40, r_mm: 80}, turn: left, boundary: "
      "metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
      "accuracy: {frequency: 1.0e-3, other_figures: 1.0e-1}\n";
  cavum_stored_scan *scan =
      compute(base,
              "cell: cell.yaml\nvary: {'path[4].line_to.r_mm': [100, 101.1], beta: [0.8, 0.9]}\n"
              "linked: ['path[3].arc_to.r_mm = path[4].line_to.r_mm',"
              " 'path[3].centre.r_mm = path[4].line_to.r_mm - 20',"
              " 'path[2].line_to.r_mm = path[4].line_to.r_mm - 20']\n");
  for (int64_t shape = 0; shape < 4; shape++) {
    char *text = text_of(scan, shape);
    cavum_cell cell = cell_of(scan, shape);
    ck_assert_int_eq(count_of(text, "arc_to"), 1);
    ck_assert_int_eq(count_of(text, "# lid"), 1);
    ck_assert_int_eq(count_of(text, "z_mm: 0, r_mm: 101.1}"), shape >= 2);
    CAVUM_CHECK_NEAR(cell.beta, study_files_value(scan, "beta", shape), 0.0);
    cavum_cell_clear(&cell);
    free(text);
  }
  finish(scan);
}
END_TEST

// A row that is none, that never was a shape, or whose held dimension was not found.
START_TEST(rows_without_a_cell_say_why) {
  char *text = NULL;
  cavum_error error = {0};
  cavum_stored_scan *scan = compute(STUDY_CELL,
                                    "cell: cell.yaml\n"
                                    "vary: {iris_radius_mm: [35.0, 500.0]}\n"
                                    "hold: {frequency_MHz: 1300.0, by: equator_radius_mm}\n");
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, 2, &error), CAVUM_ERR_RANGE);
  ck_assert_ptr_nonnull(strstr(error.message, "shape 2: expected 0 to 1"));
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, -1, &error), CAVUM_ERR_RANGE);
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, 1, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "shape 1"));
  ck_assert_ptr_nonnull(strstr(error.message, "contour.equator_radius_mm"));
  ck_assert_ptr_null(text);
  finish(scan);
  // All numbers are there, and no shape has them: not a line of a text that nobody wrote.
  scan = compute(STUDY_CELL, "cell: cell.yaml\nvary: {iris_ellipse.axial_mm: [12.0, 60.0]}\n");
  ck_assert_int_eq(cavum_stored_scan_shape_to_text(&text, scan, 1, &error), CAVUM_ERR_GEOMETRY);
  printf("%s\n", error.message);
  ck_assert(strstr(error.message, "shape 1 has no cell file: it cannot exist: left half: ") ==
            error.message);
  ck_assert_ptr_null(text);
  finish(scan);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, a_row_with_a_held_frequency_becomes_its_cell);
  tcase_add_test(tests, a_row_of_an_end_cell_becomes_its_cell);
  tcase_add_test(tests, a_stated_tube_follows_its_iris);
  tcase_add_test(tests, a_row_has_the_requirements_and_tolerances_of_its_base);
  tcase_add_test(tests, the_row_of_the_base_cell_has_its_sections_once);
  tcase_add_test(tests, rows_of_a_moved_cell_have_its_sections_once);
  tcase_add_test(tests, a_row_of_a_path_keeps_its_form);
  tcase_add_test(tests, rows_without_a_cell_say_why);
}

CAVUM_TEST_MAIN("scan cell", add_tests)
