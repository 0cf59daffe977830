// SPDX-License-Identifier: GPL-3.0-or-later
// The wall of a two-ellipse cell: common tangents of every lean, ends, parts, and refusals.
#include <string.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/two_ellipse.h"
#include "support.h"

/** Half length, iris and equator radius, equator and iris half axes (axial, radial), in mm. */
static cavum_half_cell half_from_mm(double length, double iris, double equator,
                                    double equator_axial, double equator_radial, double iris_axial,
                                    double iris_radial) {
  cavum_half_cell half = {length / 1e3,        iris / 1e3,           equator / 1e3,
                          equator_axial / 1e3, equator_radial / 1e3, iris_axial / 1e3,
                          iris_radial / 1e3};
  return half;
}

// Mid-cup of Aune et al., Phys. Rev. ST Accel. Beams 3, 092001 (2000).
static cavum_half_cell mid_cup(void) { return half_from_mm(57.7, 35, 103.3, 42, 42, 12, 19); }

// A shape whose half axes along z fill the half length: the wall between them is vertical.
static cavum_half_cell low_loss(void) {
  return half_from_mm(57.652, 30, 98.58, 50.052, 36.5, 7.6, 10.0);
}

static cavum_half_cell reentrant(void) { return half_from_mm(57.7, 33, 99, 51, 30, 9.5, 9.5); }

static cavum_cell make_cell(cavum_half_cell half, cavum_end_kind end) {
  cavum_cell cell;
  cavum_cell_set_defaults(&cell);
  cell.kind = CAVUM_CONTOUR_TWO_ELLIPSE;
  cell.left = cell.right = half;
  cell.left_end.kind = cell.right_end.kind = end;
  return cell;
}

static cavum_common_tangent tangent_of(cavum_half_cell half) {
  cavum_common_tangent tangent = {0};
  cavum_error error = {0};
  cavum_status status = cavum_two_ellipse_tangent(&tangent, &half, "right", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return tangent;
}

// 13.309 degrees, 24.285 mm: digits of the one line that touches both ellipses, which
// check_tangency() holds against them.
START_TEST(mid_cup_wall) {
  cavum_common_tangent tangent = tangent_of(mid_cup());
  CAVUM_CHECK_NEAR(tangent.lean_rad * 180.0 / CAVUM_PI, 13.309, 5e-4);
  CAVUM_CHECK_NEAR(tangent.straight_m * 1e3, 24.285, 5e-4);
}
END_TEST

/** The straight line touches both ellipses: it contains both points and their tangents. */
static void check_tangency(cavum_half_cell half) {
  cavum_common_tangent tangent = tangent_of(half);
  double equator = tangent.equator_angle_rad, iris = tangent.iris_angle_rad;
  double along_z = (tangent.iris_point.z_m - tangent.equator_point.z_m) / tangent.straight_m;
  double along_r = (tangent.iris_point.r_m - tangent.equator_point.r_m) / tangent.straight_m;
  double equator_z = half.equator_axial_m * sin(equator);
  double equator_r = -half.equator_radial_m * cos(equator);
  double iris_z = -half.iris_axial_m * sin(iris), iris_r = half.iris_radial_m * cos(iris);
  double equator_norm = hypot(equator_z, equator_r), iris_norm = hypot(iris_z, iris_r);
  // Directions agree, and not just up to the sign: dot products of unit vectors; rounding.
  CAVUM_CHECK_NEAR((along_z * equator_z + along_r * equator_r) / equator_norm, 1.0, 1e-13);
  CAVUM_CHECK_NEAR((along_z * iris_z + along_r * iris_r) / iris_norm, 1.0, 1e-13);
  CAVUM_CHECK_NEAR((along_z * equator_r - along_r * equator_z) / equator_norm, 0.0, 1e-12);
  CAVUM_CHECK_NEAR((along_z * iris_r - along_r * iris_z) / iris_norm, 0.0, 1e-12);
}

START_TEST(walls_of_every_lean_are_tangent) {
  check_tangency(mid_cup());
  check_tangency(low_loss());
  check_tangency(reentrant());
  check_tangency(half_from_mm(20, 10, 300, 15, 40, 4, 3));    // almost vertical
  check_tangency(half_from_mm(400, 35, 60, 200, 5, 100, 3));  // almost flat
  check_tangency(half_from_mm(57.7, 35, 103.3, 42, 42, 1e-4, 1e-4));
}
END_TEST

// A + a = L in decimals; 1e-15 is one unit in the last place of the sum over the lever arm.
START_TEST(low_loss_wall_is_vertical) {
  cavum_common_tangent tangent = tangent_of(low_loss());
  CAVUM_CHECK_NEAR(tangent.lean_rad, 0.0, 1e-15);
  CAVUM_CHECK_NEAR(tangent.equator_point.z_m, 50.052e-3, 1e-16);
  // Between the heights of the two centres: Req - B - (Ri + b), closed form.
  CAVUM_CHECK_NEAR(tangent.straight_m, 98.58e-3 - 36.5e-3 - 40.0e-3, 1e-15);
  ck_assert(tangent_of(reentrant()).lean_rad < -0.05);
}
END_TEST

/** A contour that passed its check. */
static cavum_contour contour_of(const cavum_cell *cell, cavum_cell_part part) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_status status = cavum_cell_make_contour(&contour, cell, part, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return contour;
}

START_TEST(whole_and_half_contours) {
  const cavum_half_cell halves[] = {mid_cup(), low_loss(), reentrant()};
  for (int i = 0; i < 3; i++) {
    cavum_cell cell = make_cell(halves[i], CAVUM_END_MAGNETIC);
    cavum_contour whole = contour_of(&cell, CAVUM_PART_WHOLE);
    cavum_contour half = contour_of(&cell, CAVUM_PART_RIGHT);
    ck_assert_int_eq(whole.num_curves, 9);
    ck_assert_int_eq(half.num_curves, 6);
    ck_assert_int_eq(half.curves[5].boundary, CAVUM_BOUNDARY_SYMMETRY);
    ck_assert_int_eq(whole.curves[0].boundary, CAVUM_BOUNDARY_AXIS);
    ck_assert_int_eq(whole.curves[1].boundary, CAVUM_BOUNDARY_MAGNETIC);
    ck_assert_int_eq(whole.curves[8].boundary, CAVUM_BOUNDARY_MAGNETIC);
    // The mirror image has the same area: rounding.
    CAVUM_CHECK_RELATIVE(cavum_contour_area_m2(&whole), 2.0 * cavum_contour_area_m2(&half), 1e-14);
    // Every joint of the wall is smooth: the angle of tangents; rounding grows by 1/(arc).
    for (int k = 2; k < 7; k++) {
      cavum_point u = cavum_curve_derivative(&whole.curves[k], 1.0);
      cavum_point v = cavum_curve_derivative(&whole.curves[k + 1], 0.0);
      double sine = (u.z_m * v.r_m - u.r_m * v.z_m) / hypot(u.z_m, u.r_m) / hypot(v.z_m, v.r_m);
      CAVUM_CHECK_NEAR(sine, 0.0, 1e-12);
    }
    cavum_contour_clear(&whole);
    cavum_contour_clear(&half);
  }
}
END_TEST

// Ellipses that touch: A = B = a = b = 1, centres (0, 0.5) and (1.2, -1.1) shifted up: distance 2.
START_TEST(touching_ellipses_need_no_straight_piece) {
  // Req - B = 3.1, Ri + b = 1.5, L = 1.2: the centres are hypot(1.2, 1.6) = 2 = B + b apart.
  cavum_cell cell = make_cell(half_from_mm(1.2, 0.5, 4.1, 1, 1, 1, 1), CAVUM_END_METAL);
  cavum_common_tangent tangent = tangent_of(cell.right);
  // A double root: half of the digits.
  CAVUM_CHECK_NEAR(tangent.straight_m * 1e3, 0.0, 1e-6);
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_status status = cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  cavum_contour_clear(&contour);
  cell.right.half_length_m = cell.left.half_length_m = 1.2001e-3;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error), CAVUM_OK);
  cavum_contour_clear(&contour);
  cell.right.half_length_m = cell.left.half_length_m = 1.1999e-3;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_WHOLE, &error),
                   CAVUM_ERR_GEOMETRY);
}
END_TEST

START_TEST(tubes_and_steps) {
  cavum_cell cell = make_cell(mid_cup(), CAVUM_END_TUBE);
  cavum_end tube = {CAVUM_END_TUBE, 0.15, 0.035, CAVUM_BOUNDARY_ELECTRIC};
  cell.left_end = cell.right_end = tube;
  ck_assert(cavum_cell_is_mirror_symmetric(&cell));
  cavum_contour contour = contour_of(&cell, CAVUM_PART_WHOLE);
  ck_assert_int_eq(contour.num_curves, 11);
  CAVUM_CHECK_RELATIVE(contour.curves[0].end.z_m, 0.0577 + 0.15, 1e-15);
  ck_assert_int_eq(contour.curves[1].boundary, CAVUM_BOUNDARY_ELECTRIC);
  ck_assert_int_eq(contour.curves[2].boundary, CAVUM_BOUNDARY_METAL);
  double area_m2 = cavum_contour_area_m2(&contour);
  cavum_contour_clear(&contour);
  const double radii_m[] = {0.030, 0.040, 0.120};
  for (int i = 0; i < 3; i++) {
    cell.left_end.tube_radius_m = radii_m[i];
    ck_assert(!cavum_cell_is_mirror_symmetric(&cell));
    contour = contour_of(&cell, CAVUM_PART_WHOLE);
    ck_assert_int_eq(contour.num_curves, 12);  // a step wall more
    CAVUM_CHECK_RELATIVE(cavum_contour_area_m2(&contour), area_m2 + 0.15 * (radii_m[i] - 0.035),
                         1e-14);
    cavum_contour_clear(&contour);
  }
  cell.left_end.tube_radius_m = 0.035 + 1e-12;  // below 1e-9 of the cell: no step
  contour = contour_of(&cell, CAVUM_PART_WHOLE);
  ck_assert_int_eq(contour.num_curves, 11);
  cavum_contour_clear(&contour);
}
END_TEST

static void check_refusal(const cavum_cell *cell, const char *first, const char *second) {
  cavum_contour contour = {0};
  cavum_error error = {0};
  cavum_status status = cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, &error);
  printf("refused: %s\n", error.message);
  ck_assert_int_eq(status, CAVUM_ERR_GEOMETRY);
  ck_assert_msg(strstr(error.message, first) != NULL, "no '%s' in: %s", first, error.message);
  ck_assert_msg(strstr(error.message, second) != NULL, "no '%s' in: %s", second, error.message);
  ck_assert_ptr_null(contour.curves);
}

START_TEST(impossible_halves_are_refused) {
  cavum_cell cell = make_cell(half_from_mm(57.7, 35, 103.3, 60, 60, 25, 19), CAVUM_END_METAL);
  check_refusal(&cell, "no common tangent", "half_length 57.7 mm");
  cell = make_cell(half_from_mm(57.7, 110, 103.3, 42, 42, 12, 19), CAVUM_END_METAL);
  check_refusal(&cell, "iris radius (110 mm)", "equator radius (103.3 mm)");
  cell = make_cell(half_from_mm(57.7, 35, 103.3, 42, 42, -12, 19), CAVUM_END_METAL);
  check_refusal(&cell, "iris_ellipse axial", "must be positive");
  cell = make_cell(half_from_mm(57.7, 35, 103.3, 42, NAN, 12, 19), CAVUM_END_METAL);
  check_refusal(&cell, "equator_ellipse radial", "must be positive");
  cell = make_cell(mid_cup(), CAVUM_END_METAL);
  cell.left.equator_radius_m = 0.1;
  check_refusal(&cell, "halves do not meet", "100 mm at the left");
  cell = make_cell(mid_cup(), CAVUM_END_TUBE);
  check_refusal(&cell, "tube", "must be positive");
}
END_TEST

// The equator ellipse reaches beyond the iris plane, where a wide tube stands in its way.
START_TEST(equator_that_reaches_into_a_tube_is_refused) {
  cavum_cell cell = make_cell(half_from_mm(50, 30, 200, 60, 20, 4, 4), CAVUM_END_METAL);
  cavum_contour contour = contour_of(&cell, CAVUM_PART_WHOLE);  // alone it is fine
  cavum_contour_clear(&contour);
  cavum_end tube = {CAVUM_END_TUBE, 0.1, 0.190, CAVUM_BOUNDARY_METAL};
  cell.right_end = tube;
  check_refusal(&cell, "crosses or touches", "right");
}
END_TEST

START_TEST(half_contour_needs_a_mirror_plane) {
  cavum_cell cell = make_cell(mid_cup(), CAVUM_END_METAL);
  cavum_contour contour = {0};
  cell.left_end.kind = CAVUM_END_MAGNETIC;
  ck_assert_int_eq(cavum_cell_make_contour(&contour, &cell, CAVUM_PART_RIGHT, NULL),
                   CAVUM_ERR_INPUT);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, mid_cup_wall);
  tcase_add_test(tests, walls_of_every_lean_are_tangent);
  tcase_add_test(tests, low_loss_wall_is_vertical);
  tcase_add_test(tests, whole_and_half_contours);
  tcase_add_test(tests, touching_ellipses_need_no_straight_piece);
  tcase_add_test(tests, tubes_and_steps);
  tcase_add_test(tests, impossible_halves_are_refused);
  tcase_add_test(tests, equator_that_reaches_into_a_tube_is_refused);
  tcase_add_test(tests, half_contour_needs_a_mirror_plane);
}

CAVUM_TEST_MAIN("two_ellipse", add_tests)
