// SPDX-License-Identifier: GPL-3.0-or-later
// Which paths are their own mirror image, and what is cut out of them.
#include <stdarg.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell.h"
#include "contour/check.h"
#include "contour/mirror.h"
#include "support.h"

static cavum_cell read_path(const char *format, ...) __attribute__((format(printf, 1, 2)));
static cavum_cell read_path(const char *format, ...) {
  char text[4096] = "accelerating_length_mm: 100\nmodes: {count: 1}\ncontour:\n  kind: path\n";
  size_t length = strlen(text);
  va_list arguments;
  va_start(arguments, format);
  vsnprintf(text + length, sizeof text - length, format, arguments);
  va_end(arguments);
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "test.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

// The half is a good contour right of the plane with half of the area.
static void check_half(cavum_cell *cell, double plane_m, cavum_index num_curves) {
  cavum_contour half = {0};
  cavum_contour_mirror mirror = {0};
  cavum_error error = {0};
  ck_assert(cavum_cell_is_mirror_symmetric(cell));
  ck_assert(cavum_contour_find_mirror(&mirror, &cell->path));
  CAVUM_CHECK_NEAR(mirror.plane_m, plane_m, 1e-16);  // decimal numbers of the file
  cavum_status status = cavum_cell_make_contour(&half, cell, CAVUM_PART_RIGHT, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  ck_assert_int_eq(half.num_curves, num_curves);
  // Rounding of sums of a few terms.
  CAVUM_CHECK_RELATIVE(2.0 * cavum_contour_area_m2(&half), cavum_contour_area_m2(&cell->path),
                       1e-13);
  const cavum_curve *plane = &half.curves[num_curves - 1];
  ck_assert_int_eq(plane->boundary, CAVUM_BOUNDARY_SYMMETRY);
  ck_assert(plane->start.z_m == mirror.plane_m && plane->end.z_m == mirror.plane_m);
  ck_assert(plane->start.r_m > plane->end.r_m);
  for (cavum_index i = 0; i < num_curves; i++) {
    for (int k = 0; k <= 16; k++) {
      double z = cavum_curve_point(&half.curves[i], k / 16.0).z_m;
      ck_assert_msg(z >= mirror.plane_m - 1e-15, "curve %d at %g", (int)i, z);
    }
  }
  cavum_contour_clear(&half);
  cavum_cell_clear(cell);
}

static void check_not(cavum_cell *cell) {
  cavum_contour half = {0};
  ck_assert(!cavum_cell_is_mirror_symmetric(cell));
  ck_assert_int_eq(cavum_cell_make_contour(&half, cell, CAVUM_PART_RIGHT, NULL), CAVUM_ERR_INPUT);
  cavum_cell_clear(cell);
}

static cavum_cell pillbox(double left, double right, const char *left_kind,
                          const char *right_kind) {
  return read_path(
      "  start: {z_mm: %.9f, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: %.9f, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: %.9f, r_mm: 100}, boundary: %s}\n"
      "    - {line_to: {z_mm: %.9f, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: %.9f, r_mm: 0}, boundary: %s}\n",
      left, right, right, right_kind, left, left, left_kind);
}

START_TEST(lines) {
  cavum_cell cell = pillbox(-50, 50, "metal", "metal");
  check_half(&cell, 0.0, 4);
  cell = pillbox(13.7, 131.3, "electric", "electric");
  check_half(&cell, 0.0725, 4);
  cell = pillbox(-50, 50, "metal", "electric");
  check_not(&cell);
}
END_TEST

// The plane goes through the middle of the ellipse, or through a junction.
START_TEST(ellipses) {
  const char *ellipse =
      "{ellipse_to: {z_mm: %g, r_mm: %g}, centre: {z_mm: 30, r_mm: 0}, axial_mm: 90, radial_mm: "
      "70, turn: left, boundary: metal}\n";
  char first[256], second[256];
  snprintf(second, sizeof second, ellipse, -60.0, 0.0);
  const char *axis =
      "  start: {z_mm: -60, r_mm: 0}\n  path:\n    - {line_to: {z_mm: 120, r_mm: 0}, "
      "boundary: axis}\n";
  cavum_cell cell = read_path("%s    - %s", axis, second);
  check_half(&cell, 0.03, 3);
  snprintf(first, sizeof first, ellipse, 30.0, 70.0);
  cell = read_path("%s    - %s    - %s", axis, first, second);
  check_half(&cell, 0.03, 3);
  // cos 60 degrees of the axis: a junction at one side only.
  snprintf(first, sizeof first, ellipse, 30.0 + 45.0, 70.0 * sqrt(0.75));
  cell = read_path("%s    - %s    - %s", axis, first, second);
  check_not(&cell);
}
END_TEST

// A wall through points: the plane in the middle of a span, or through a point.
START_TEST(splines) {
  const char *around =
      "  start: {z_mm: -80, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 80, r_mm: 30}, boundary: electric}\n";
  const char *end = "    - {line_to: {z_mm: -80, r_mm: 0}, boundary: electric}\n";
  cavum_cell cell = read_path(
      "%s    - {spline_through: [{z_mm: 40, r_mm: 60}, {z_mm: -40, r_mm: 60}, {z_mm: -80, r_mm: "
      "30}], boundary: metal}\n%s",
      around, end);
  check_half(&cell, 0.0, 5);
  cell = read_path(
      "%s    - {spline_through: [{z_mm: 40, r_mm: 60}, {z_mm: 0, r_mm: 64}, {z_mm: -40, r_mm: 60}, "
      "{z_mm: -80, r_mm: 30}], boundary: metal}\n%s",
      around, end);
  check_half(&cell, 0.0, 5);
  cell = read_path(
      "%s    - {spline_through: [{z_mm: 40, r_mm: 60}, {z_mm: 0, r_mm: 64}, {z_mm: -40, r_mm: "
      "60.00006}, {z_mm: -80, r_mm: 30}], boundary: metal}\n%s",
      around, end);
  check_not(&cell);
}
END_TEST

// Off the axis, and with the axis in two pieces at the ends.
START_TEST(inner_conductors) {
  cavum_cell cell = read_path(
      "  start: {z_mm: 10, r_mm: 15}\n  path:\n"
      "    - {line_to: {z_mm: 210, r_mm: 15}, boundary: metal}\n"
      "    - {line_to: {z_mm: 210, r_mm: 45}, boundary: metal}\n"
      "    - {line_to: {z_mm: 10, r_mm: 45}, boundary: metal}\n"
      "    - {line_to: {z_mm: 10, r_mm: 15}, boundary: metal}\n");
  check_half(&cell, 0.11, 4);
  cell = read_path(
      "  start: {z_mm: -100, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: -80, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: -80, r_mm: 15}, boundary: metal}\n"
      "    - {line_to: {z_mm: 80, r_mm: 15}, boundary: metal}\n"
      "    - {line_to: {z_mm: 80, r_mm: 0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 100, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 100, r_mm: 50}, boundary: metal}\n"
      "    - {line_to: {z_mm: -100, r_mm: 50}, boundary: metal}\n"
      "    - {line_to: {z_mm: -100, r_mm: 0}, boundary: metal}\n");
  check_half(&cell, 0.0, 6);
}
END_TEST

// 1e-6 of one dimension; a start in the middle of a wall; a re-entrant ridge on the plane, which is
// better solved whole; a ridge outwards, which is not.
START_TEST(nearly_and_not_used) {
  cavum_cell cell = read_path(
      "  start: {z_mm: -50, r_mm: 0}\n  path:\n"
      "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 50, r_mm: 90.00009}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 90}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n");
  check_not(&cell);
  cell = read_path(
      "  start: {z_mm: 20, r_mm: 100}\n  path:\n"
      "    - {line_to: {z_mm: -50, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n"
      "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
      "    - {line_to: {z_mm: 50, r_mm: 100}, boundary: metal}\n"
      "    - {line_to: {z_mm: 20, r_mm: 100}, boundary: metal}\n");
  check_not(&cell);
  const double ridges_mm[] = {80.0, 120.0};
  for (int i = 0; i < 2; i++) {
    cell = read_path(
        "  start: {z_mm: -50, r_mm: 0}\n  path:\n"
        "    - {line_to: {z_mm: 50, r_mm: 0}, boundary: axis}\n"
        "    - {line_to: {z_mm: 50, r_mm: 100}, boundary: metal}\n"
        "    - {line_to: {z_mm: 0, r_mm: %g}, boundary: metal}\n"
        "    - {line_to: {z_mm: -50, r_mm: 100}, boundary: metal}\n"
        "    - {line_to: {z_mm: -50, r_mm: 0}, boundary: metal}\n",
        ridges_mm[i]);
    if (i == 0) check_not(&cell);
    if (i == 1) check_half(&cell, 0.0, 4);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, lines);
  tcase_add_test(tests, ellipses);
  tcase_add_test(tests, splines);
  tcase_add_test(tests, inner_conductors);
  tcase_add_test(tests, nearly_and_not_used);
}

CAVUM_TEST_MAIN("contour mirror", add_tests)
