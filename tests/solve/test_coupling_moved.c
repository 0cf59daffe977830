// SPDX-License-Identifier: GPL-3.0-or-later
// The coupling of shapes that were moved: of one that only shrank it is that of the cell before, of
// one that was etched that of its path with either kind of plane at its ends.
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cavum/solve.h"
#include "cell/cell.h"
#include "support.h"

static const char mid_cell[] =
    "contour:\n"
    "  kind: two-ellipse\n"
    "  half_length_mm: 57.7\n"
    "  iris_radius_mm: 35\n"
    "  equator_radius_mm: 103.3\n"
    "  equator_ellipse: {axial_mm: 42, radial_mm: 42}\n"
    "  iris_ellipse: {axial_mm: 12, radial_mm: 19}\n"
    "%s"
    "ends: {left: {kind: %s}, right: {kind: magnetic}}\n"
    "accuracy: {frequency: 1e-10}\n";

static cavum_cell read_cell(const char *moved, const char *left) {
  char text[1024];
  cavum_cell cell;
  cavum_error error = {0};
  snprintf(text, sizeof text, mid_cell, moved, left);
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

static cavum_result *solve_coupled(const cavum_cell *cell, bool derivatives) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  options.derivatives = derivatives;
  cavum_status status = cavum_solve(&result, cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return result;
}

static cavum_result *couple(const char *moved, bool derivatives) {
  cavum_cell cell = read_cell(moved, "magnetic");
  cavum_result *result = solve_coupled(&cell, derivatives);
  cavum_cell_clear(&cell);
  return result;
}

START_TEST(a_cell_that_shrank_has_the_coupling_it_had) {
  cavum_result *before = couple("", false);
  cavum_result *behind = couple("  moved: [{contraction: 0.00143}]\n", false);
  CAVUM_CHECK_RELATIVE(behind->coupling.value, before->coupling.value, 1e-7);
  CAVUM_CHECK_RELATIVE(behind->zero_mode_hz, before->zero_mode_hz / (1 - 0.00143), 1e-9);
  CAVUM_CHECK_RELATIVE(behind->pi_mode_hz, before->pi_mode_hz / (1 - 0.00143), 1e-9);
  cavum_result_destroy(&before);
  cavum_result_destroy(&behind);
}
END_TEST

// The path alone, without the text that it came from; its ends are the lines that are no metal.
static double path_frequency(cavum_boundary plane) {
  cavum_cell cell = read_cell("  moved: [{offset_mm: 0.3}, {longer_mm: 0.4}]\n", "electric");
  cavum_result *result = NULL;
  free(cell.text);
  cell.text = NULL;
  int planes = 0;
  for (cavum_index i = 0; i < cell.path.num_curves; i++) {
    cavum_curve *curve = &cell.path.curves[i];
    bool is_end =
        curve->boundary == CAVUM_BOUNDARY_ELECTRIC || curve->boundary == CAVUM_BOUNDARY_MAGNETIC;
    if (is_end) curve->boundary = plane;
    planes += is_end;
  }
  ck_assert_int_eq(planes, 2);
  cell.num_modes = 1;
  ck_assert_int_eq(cavum_solve(&result, &cell, NULL, NULL), CAVUM_OK);
  double frequency_hz = cavum_mode_figure(&result->modes[0], CAVUM_FIGURE_FREQUENCY).value;
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
  return frequency_hz;
}

START_TEST(an_etched_cell_has_the_coupling_of_its_path) {
  cavum_cell cell = read_cell("  moved: [{offset_mm: 0.3}, {longer_mm: 0.4}]\n", "electric");
  cavum_result *result = solve_coupled(&cell, false);
  double zero = path_frequency(CAVUM_BOUNDARY_ELECTRIC),
         pi = path_frequency(CAVUM_BOUNDARY_MAGNETIC);
  CAVUM_CHECK_RELATIVE(result->zero_mode_hz, zero, 1e-9);
  CAVUM_CHECK_RELATIVE(result->pi_mode_hz, pi, 1e-9);
  CAVUM_CHECK_RELATIVE(result->coupling.value, 2.0 * (pi - zero) / (pi + zero), 1e-7);
  ck_assert(!result->coupling_without_tubes);
  cavum_result_destroy(&result);
  cavum_cell_clear(&cell);
}
END_TEST

// Central differences of 10 um; what bends k_cc leaves some 1e-6 of them, 1e-10 of f as much.
START_TEST(its_derivative_by_the_etch_is_a_difference) {
  cavum_result *at = couple("  moved: [{offset_mm: 0.3}]\n", true);
  cavum_result *less = couple("  moved: [{offset_mm: 0.29}]\n", false);
  cavum_result *more = couple("  moved: [{offset_mm: 0.31}]\n", false);
  double difference = (more->coupling.value - less->coupling.value) / 20e-6;
  int found = -1;
  for (int i = 0; i < at->num_dimensions; i++) {
    if (strcmp(at->dimensions[i].key, "moved[1].offset_mm") == 0) found = i;
  }
  ck_assert_int_ge(found, 0);
  cavum_derivative by_etch = cavum_result_coupling_derivative(at, found);
  ck_assert_int_eq(by_etch.state, CAVUM_FIGURE_PRESENT);
  CAVUM_CHECK_RELATIVE(by_etch.value, difference, 1e-4);
  cavum_result_destroy(&at);
  cavum_result_destroy(&less);
  cavum_result_destroy(&more);
}
END_TEST

static void check_refused(const cavum_cell *cell) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = options.coupling_of_inner_cell = true;
  ck_assert_int_eq(cavum_solve(&result, cell, &options, &error), CAVUM_ERR_USAGE);
  ck_assert_str_eq(error.message, "k_cc needs a two-ellipse cell with electric or magnetic ends");
  ck_assert_ptr_null(result);
}

// What was done to a cell with tubes was done to the tubes too; a path of one's own has no irises.
START_TEST(shapes_without_planes_have_none) {
  const char *const moved = "  moved: [{offset_mm: 0.3}]\n";
  cavum_cell cell = read_cell(moved, "tube, length_mm: 100, close: electric");
  check_refused(&cell);
  cavum_cell_clear(&cell);
  cell = read_cell(moved, "magnetic");
  free(cell.text);
  cell.text = NULL;
  check_refused(&cell);
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_cell_that_shrank_has_the_coupling_it_had);
  tcase_add_test(tests, an_etched_cell_has_the_coupling_of_its_path);
  tcase_add_test(tests, its_derivative_by_the_etch_is_a_difference);
  tcase_add_test(tests, shapes_without_planes_have_none);
}

CAVUM_TEST_MAIN("coupling of moved cells", add)
