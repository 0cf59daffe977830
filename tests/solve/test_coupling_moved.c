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

// Its accelerating length is that of the half lengths, moved; in a file too. One that is stated is
// given, and so is that of a path that was read.
START_TEST(its_length_says_what_it_is) {
  static const struct {
    const char *moved, *stated, *from;
  } cases[] = {{"  moved: [{longer_mm: 0.4}]\n", "", "2 x half_length, moved"},
               {"  right: {half_length_mm: 57}\n  moved: [{longer_mm: 0.4}]\n", "",
                "left half_length + right half_length, moved"},
               {"  moved: [{longer_mm: 0.4}]\n", "accelerating_length_mm: 110\n", "given"},
               {"", "", "2 x half_length"},
               {"  right: {half_length_mm: 57}\n", "", "left half_length + right half_length"}};
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    char moved[256];
    snprintf(moved, sizeof moved, "%s%s", cases[i].moved, cases[i].stated);
    cavum_cell cell = read_cell(moved, "magnetic");
    cavum_result *result = solve_coupled(&cell, false);
    ck_assert_str_eq(result->accelerating_length.from, cases[i].from);
    if (i == 0) CAVUM_CHECK_NEAR(result->accelerating_length.value_m, 0.1154 + 0.4e-3, 1e-15);
    cavum_result_destroy(&result);
    // Another one that a program sets is given.
    cell.accelerating_length_m = 0.1;
    result = solve_coupled(&cell, false);
    ck_assert_str_eq(result->accelerating_length.from, "given");
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
}
END_TEST

// ---- with tubes

static const char tube_100[] = "tube, length_mm: 100, close: electric";

static cavum_result *couple_inner(const char *moved, const char *left, bool derivatives) {
  cavum_cell cell = read_cell(moved, left);
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = options.coupling_of_inner_cell = true;
  options.derivatives = derivatives;
  cavum_status status = cavum_solve(&result, &cell, &options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert(result->coupling_without_tubes);
  cavum_cell_clear(&cell);
  return result;
}

// The inner cell of one with a tube on the left, 115.4 mm of cell and 100 mm of tube, is the cell
// between planes: etched alike, as much longer in parts, and cut where it has no tube.
START_TEST(with_a_tube_it_is_that_of_the_cell_between_planes) {
  static const struct {
    const char *with_tube, *between_planes;
  } lists[] = {{"{offset_mm: 0.3}", "{offset_mm: 0.3}"},
               {"{longer_mm: 0.4}, {offset_mm: 0.1}, {contraction: 0.00143}",
                "{longer_mm: 0.21429897864438255}, {offset_mm: 0.1}, {contraction: 0.00143}"},
               {"{left_iris_mm: -5}, {equator_mm: -0.2}", "{equator_mm: -0.2}"},
               {"{iris_mm: 0.5}, {offset_mm: 0.1, iris_share: 1.2}",
                "{right_iris_mm: 0.5}, {offset_mm: 0.1, iris_share: 1.2}"},
               {"{offset_mm: 0.1, profile: [{z_mm: -60, share: 0.5}, {z_mm: 60, share: 1}]}",
                "{offset_mm: 0.1, profile: [{z_mm: -60, share: 0.5}, {z_mm: 60, share: 1}]}"}};
  for (size_t i = 0; i < sizeof lists / sizeof *lists; i++) {
    char with[256], between[256];
    snprintf(with, sizeof with, "  moved: [%s]\n", lists[i].with_tube);
    snprintf(between, sizeof between, "  moved: [%s]\n", lists[i].between_planes);
    cavum_result *inner = couple_inner(with, tube_100, false);
    cavum_result *planes = couple(between, false);
    // Both to 1e-10 of the frequency.
    CAVUM_CHECK_RELATIVE(inner->zero_mode_hz, planes->zero_mode_hz, 4e-10);
    CAVUM_CHECK_RELATIVE(inner->pi_mode_hz, planes->pi_mode_hz, 4e-10);
    cavum_result_destroy(&inner);
    cavum_result_destroy(&planes);
  }
}
END_TEST

static double derivative_by(const cavum_result *result, const char *key) {
  for (int i = 0; i < result->num_dimensions; i++) {
    if (strcmp(result->dimensions[i].key, key) != 0) continue;
    cavum_derivative d = cavum_result_coupling_derivative(result, i);
    ck_assert_int_eq(d.state, CAVUM_FIGURE_PRESENT);
    return d.value;
  }
  ck_abort_msg("%s: no dimension", key);
  return NAN;
}

START_TEST(with_a_tube_it_has_its_derivatives) {
  static const char list[] =
      "  moved: [{offset_mm: 0.3}, {contraction: 0.001}, {left_iris_mm: -5},\n"
      "{offset_mm: 0.1, iris_share: 1.1}, {contraction: 0.001, axial_contraction: 0.001}]\n";
  static const char planes_list[] =
      "  moved: [{offset_mm: 0.3}, {contraction: 0.001}, {equator_mm: 0},\n"
      "{offset_mm: 0.1, iris_share: 1.1}, {contraction: 0.001, axial_contraction: 0.001}]\n";
  cavum_result *inner = couple_inner(list, tube_100, true), *planes = couple(planes_list, true);
  const char *keys[] = {"moved[1].offset_mm",
                        "moved[2].contraction",
                        "iris_radius_mm",
                        "half_length_mm",
                        "moved[4].iris_share",
                        "moved[5].contraction",
                        "moved[5].axial_contraction"};
  for (int i = 0; i < 7; i++) {
    double expected = derivative_by(planes, keys[i]);
    // Nothing comes of shrinking but rounding; the largest is some 10 per metre.
    CAVUM_CHECK_NEAR(derivative_by(inner, keys[i]), expected, 1e-6 * fabs(expected) + 1e-6);
  }
  CAVUM_CHECK_NEAR(derivative_by(inner, "moved[3].left_iris_mm"), 0.0, 0.0);
  CAVUM_CHECK_NEAR(derivative_by(inner, "ends.left.length_mm"), 0.0, 0.0);
  cavum_result_destroy(&inner);
  cavum_result_destroy(&planes);
}
END_TEST

static void check_refused(const cavum_cell *cell, bool inner, bool derivatives,
                          const char *message) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = true;
  options.coupling_of_inner_cell = inner;
  options.derivatives = derivatives;
  ck_assert_int_eq(cavum_solve(&result, cell, &options, &error), CAVUM_ERR_USAGE);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, message));
  ck_assert_ptr_null(strchr(error.message, '\n'));
  ck_assert_ptr_null(result);
}

// A path of one's own has no irises; tubes stand in the way unless they are left out.
START_TEST(shapes_without_planes_have_none) {
  const char *const moved = "  moved: [{offset_mm: 0.3}]\n";
  static const char none[] = "k_cc needs a two-ellipse cell with electric or magnetic ends";
  cavum_cell cell = read_cell(moved, tube_100);
  check_refused(&cell, false, false, "use --coupling=inner-cell");
  cavum_cell_clear(&cell);
  cell = read_cell(moved, "magnetic");
  free(cell.text);
  cell.text = NULL;
  check_refused(&cell, true, false, none);
  cavum_cell_clear(&cell);
}
END_TEST

// What an inner cell cannot tell is said, with what to do.
START_TEST(what_an_inner_cell_has_not_is_said) {
  cavum_cell cell = read_cell("  moved: [{offset_mm: 0.3}, {longer_mm: 0.4}]\n", tube_100);
  check_refused(&cell, true, true, "contour.moved[2].longer_mm acts on the tubes too");
  cavum_cell_clear(&cell);
  cell = read_cell("  moved: [{iris_mm: 0.4}]\n", tube_100);
  check_refused(&cell, true, true, "contour.moved[1].iris_mm acts on the tubes too");
  cavum_cell_clear(&cell);
  cell = read_cell("  moved: [{offset_mm: 0.3, iris_share: 1.5}]\n",
                   "tube, length_mm: 100, radius_mm: 30, close: electric");
  check_refused(&cell, true, false, "state the depth as a profile");
  cavum_cell_clear(&cell);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, a_cell_that_shrank_has_the_coupling_it_had);
  tcase_add_test(tests, an_etched_cell_has_the_coupling_of_its_path);
  tcase_add_test(tests, its_derivative_by_the_etch_is_a_difference);
  tcase_add_test(tests, its_length_says_what_it_is);
  tcase_add_test(tests, with_a_tube_it_is_that_of_the_cell_between_planes);
  tcase_add_test(tests, with_a_tube_it_has_its_derivatives);
  tcase_add_test(tests, shapes_without_planes_have_none);
  tcase_add_test(tests, what_an_inner_cell_has_not_is_said);
}

CAVUM_TEST_MAIN("coupling of moved cells", add)
