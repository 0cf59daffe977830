// SPDX-License-Identifier: GPL-3.0-or-later
// Curves, arcs fitted to their ends, and splines.
#include <string.h>

#include "base/base.h"
#include "contour/builder.h"
#include "contour/curve.h"
#include "contour/spline.h"
#include "support.h"

static cavum_curve make_arc(double axial_m, double radial_m, double from_rad, double to_rad) {
  cavum_curve curve = {.kind = CAVUM_CURVE_ELLIPSE,
                       .centre = {0.3, 0.7},
                       .axial_m = axial_m,
                       .radial_m = radial_m,
                       .angle_start_rad = from_rad,
                       .angle_end_rad = to_rad};
  curve.start.z_m = 0.3 + axial_m * cos(from_rad);
  curve.start.r_m = 0.7 + radial_m * sin(from_rad);
  curve.end.z_m = 0.3 + axial_m * cos(to_rad);
  curve.end.r_m = 0.7 + radial_m * sin(to_rad);
  return curve;
}

static cavum_curve make_cubic(void) {
  cavum_curve curve = {.kind = CAVUM_CURVE_CUBIC,
                       .cubic = {{0.1, 0.2}, {1.3, -0.4}, {-0.7, 2.1}, {0.9, -1.7}}};
  curve.start = curve.cubic[0];
  for (int k = 0; k < 4; k++) {
    curve.end.z_m += curve.cubic[k].z_m;
    curve.end.r_m += curve.cubic[k].r_m;
  }
  return curve;
}

START_TEST(ends_are_exact) {
  cavum_point start = {0.1, 0.3}, end = {0.7, 0.9};
  cavum_curve line = cavum_curve_make_line(start, end, CAVUM_BOUNDARY_METAL);
  cavum_curve arc = make_arc(0.2, 0.5, 0.3, -2.9);
  const cavum_curve *curves[] = {&line, &arc};
  for (int i = 0; i < 2; i++) {
    cavum_point first = cavum_curve_point(curves[i], 0.0), last = cavum_curve_point(curves[i], 1.0);
    ck_assert(first.z_m == curves[i]->start.z_m && first.r_m == curves[i]->start.r_m);
    ck_assert(last.z_m == curves[i]->end.z_m && last.r_m == curves[i]->end.r_m);
  }
}
END_TEST

// Central differences of the point and of the derivative. Their error is h^2/6 of the third
// derivative (below 100 here) plus rounding 1e-16/h: with h = 1e-5 both stay below 1e-8.
START_TEST(derivatives_match_differences) {
  cavum_curve cubic = make_cubic(), arc = make_arc(0.2, 0.5, 0.3, -2.9);
  const cavum_curve *curves[] = {&cubic, &arc};
  const double h = 1e-5, t = 0.37;
  for (int i = 0; i < 2; i++) {
    cavum_point below = cavum_curve_point(curves[i], t - h);
    cavum_point above = cavum_curve_point(curves[i], t + h);
    cavum_point first = cavum_curve_derivative(curves[i], t);
    CAVUM_CHECK_NEAR(first.z_m, (above.z_m - below.z_m) / (2 * h), 1e-8);
    CAVUM_CHECK_NEAR(first.r_m, (above.r_m - below.r_m) / (2 * h), 1e-8);
    below = cavum_curve_derivative(curves[i], t - h);
    above = cavum_curve_derivative(curves[i], t + h);
    cavum_point second = cavum_curve_second_derivative(curves[i], t);
    CAVUM_CHECK_NEAR(second.z_m, (above.z_m - below.z_m) / (2 * h), 1e-8);
    CAVUM_CHECK_NEAR(second.r_m, (above.r_m - below.r_m) / (2 * h), 1e-8);
  }
}
END_TEST

// Perimeter of an ellipse from the arithmetic-geometric mean (closed form; it doubles its digits at
// each step): 2 pi (a0^2 - sum 2^(n-1) c_n^2) / agm(a, b).
static double ellipse_perimeter(double a, double b) {
  double x = a, y = b, sum = 0.5 * (a * a - b * b), power = 1.0;
  for (int n = 0; n < 12; n++) {
    double c = 0.5 * (x - y), mean = 0.5 * (x + y);
    y = sqrt(x * y);
    x = mean;
    sum += power * c * c;
    power *= 2.0;
  }
  return 2.0 * CAVUM_PI * (a * a - sum) / x;
}

// The interface promises 1e-12.
START_TEST(ellipse_length_is_exact) {
  const double ratios[] = {1.0, 0.7, 0.1, 1e-2, 1e-4};
  for (int i = 0; i < 5; i++) {
    double b = 0.4 * ratios[i];
    cavum_curve arc = make_arc(0.4, b, 0.1, 0.1 + 2.0 * CAVUM_PI);
    CAVUM_CHECK_RELATIVE(cavum_curve_length(&arc, 0.0, 1.0), ellipse_perimeter(0.4, b), 1e-12);
  }
}
END_TEST

// A quarter of a turn of the flattest ellipse, cut anywhere, must add up.
START_TEST(length_is_additive) {
  cavum_curve arc = make_arc(0.4, 4e-7, 0.2, 1.9);
  double whole = cavum_curve_length(&arc, 0.0, 1.0);
  double parts = cavum_curve_length(&arc, 0.0, 0.31) + cavum_curve_length(&arc, 0.31, 1.0);
  CAVUM_CHECK_RELATIVE(parts, whole, 2e-12);
  cavum_point start = {0.1, 0.3}, end = {0.4, 0.7};
  cavum_curve line = cavum_curve_make_line(start, end, CAVUM_BOUNDARY_METAL);
  CAVUM_CHECK_RELATIVE(cavum_curve_length(&line, 0.25, 0.75), 0.25, 1e-15);
}
END_TEST

// Semicubical parabola (t^2, t^3): length ((4 + 9 t^2)^(3/2) - 8) / 27, closed form; the speed has
// a root at the cusp t = 0.5 of the shifted curve.
START_TEST(length_of_a_cusp_is_exact) {
  // z = (t - 1/2)^2, r = (t - 1/2)^3.
  cavum_curve curve = {.kind = CAVUM_CURVE_CUBIC,
                       .cubic = {{0.25, -0.125}, {-1.0, 0.75}, {1.0, -1.5}, {0.0, 1.0}},
                       .start = {0.25, -0.125},
                       .end = {0.25, 0.125}};
  double half = (pow(4.0 + 9.0 * 0.25, 1.5) - 8.0) / 27.0;
  CAVUM_CHECK_RELATIVE(cavum_curve_length(&curve, 0.0, 1.0), 2.0 * half, 1e-12);
  double part = (pow(4.0 + 9.0 * 0.0625, 1.5) - 8.0) / 27.0;
  CAVUM_CHECK_RELATIVE(cavum_curve_length(&curve, 0.25, 1.0), half + part, 1e-12);
}
END_TEST

// Ends given with six digits: the fitted arc passes through both, whatever the turn.
START_TEST(arc_is_fitted_to_its_ends) {
  cavum_arc arc = {.start = {0.05 + 0.03 * cos(0.4) + 2e-8, 0.02 + 0.07 * sin(0.4)},
                   .end = {0.05 + 0.03 * cos(2.1), 0.02 + 0.07 * sin(2.1) - 3e-8},
                   .centre = {0.05, 0.02},
                   .axial_m = 0.03,
                   .radial_m = 0.07,
                   .boundary = CAVUM_BOUNDARY_METAL};
  for (int left = 0; left < 2; left++) {
    cavum_curve curve;
    arc.turn_left = left;
    ck_assert_int_eq(cavum_curve_make_arc(&curve, &arc, NULL), CAVUM_OK);
    ck_assert(left == (curve.angle_end_rad > curve.angle_start_rad));
    // Rounding of the end angles.
    cavum_point near_start = cavum_curve_point(&curve, 1e-14);
    cavum_point near_end = cavum_curve_point(&curve, 1.0 - 1e-14);
    CAVUM_CHECK_NEAR(near_start.z_m, arc.start.z_m, 1e-14);
    CAVUM_CHECK_NEAR(near_start.r_m, arc.start.r_m, 1e-14);
    CAVUM_CHECK_NEAR(near_end.z_m, arc.end.z_m, 1e-14);
    CAVUM_CHECK_NEAR(near_end.r_m, arc.end.r_m, 1e-14);
    // The deviations are 1e-6 of the half axes: so may the changes be, a few times over.
    CAVUM_CHECK_RELATIVE(curve.axial_m, 0.03, 3e-6);
    CAVUM_CHECK_RELATIVE(curve.radial_m, 0.07, 3e-6);
    CAVUM_CHECK_NEAR(curve.centre.z_m, 0.05, 3e-6 * 0.03);
    CAVUM_CHECK_NEAR(curve.centre.r_m, 0.02, 3e-6 * 0.07);
  }
}
END_TEST

START_TEST(arcs_that_cannot_be_are_refused) {
  cavum_error error = {0};
  cavum_curve curve;
  cavum_arc circle = {.start = {1.0, 0.0}, .end = {0.0, 1.00001}, .turn_left = true};
  ck_assert_int_eq(cavum_curve_make_arc(&curve, &circle, &error), CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_nonnull(strstr(error.message, "no circle"));
  cavum_arc ellipse = {.start = {1.0, 0.0}, .end = {0.0, 0.51}, .axial_m = 1.0, .radial_m = 0.5};
  ck_assert_int_eq(cavum_curve_make_arc(&curve, &ellipse, &error), CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_nonnull(strstr(error.message, "the end is not on the ellipse"));
  cavum_arc full = {.start = {1.0, 0.0}, .end = {1.0, 0.0}, .turn_left = true};
  ck_assert_int_eq(cavum_curve_make_arc(&curve, &full, &error), CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_nonnull(strstr(error.message, "two arcs"));
  cavum_arc point = {.start = {0.0, 0.0}, .end = {0.0, 0.0}};
  ck_assert_int_eq(cavum_curve_make_arc(&curve, &point, &error), CAVUM_ERR_GEOMETRY);
}
END_TEST

/** Points of a quarter circle of radius 1, unevenly spaced. */
static void circle_points(cavum_point *points, int n) {
  for (int i = 0; i < n; i++) {
    double s = (double)i / (n - 1);
    double angle = 0.5 * CAVUM_PI * (s + 0.08 * sin(2.0 * CAVUM_PI * s));
    points[i].z_m = cos(angle);
    points[i].r_m = sin(angle);
  }
}

START_TEST(spline_is_smooth_in_second_derivatives) {
  enum { N = 9 };
  cavum_point points[N];
  cavum_curve spans[N - 1];
  circle_points(points, N);
  ck_assert_int_eq(cavum_spline_through_points(spans, points, N, CAVUM_BOUNDARY_METAL, NULL, NULL),
                   CAVUM_OK);
  double third_before = 0.0;
  for (int i = 0; i + 1 < N; i++) {
    double h = hypot(points[i + 1].z_m - points[i].z_m, points[i + 1].r_m - points[i].r_m);
    ck_assert_int_eq(spans[i].boundary, CAVUM_BOUNDARY_METAL);
    ck_assert(spans[i].end.z_m == points[i + 1].z_m);
    // The polynomial reaches the point that ends it: rounding.
    cavum_point end = cavum_curve_point(&spans[i], 1.0 - 1e-16);
    CAVUM_CHECK_NEAR(end.z_m, points[i + 1].z_m, 1e-15);
    double third = 6.0 * spans[i].cubic[3].z_m / (h * h * h);
    // Not-a-knot: the first two and the last two spans share their third derivative. Rounding is
    // divided by h^3, about 1e-2.
    if (i == 1 || i == N - 2) CAVUM_CHECK_NEAR(third, third_before, 1e-11);
    third_before = third;
    if (i == 0) continue;
    double before = hypot(points[i].z_m - points[i - 1].z_m, points[i].r_m - points[i - 1].r_m);
    cavum_point left = cavum_curve_derivative(&spans[i - 1], 1.0);
    cavum_point right = cavum_curve_derivative(&spans[i], 0.0);
    CAVUM_CHECK_NEAR(left.z_m / before, right.z_m / h, 1e-14);
    left = cavum_curve_second_derivative(&spans[i - 1], 1.0);
    right = cavum_curve_second_derivative(&spans[i], 0.0);
    // Rounding divided by h^2, about 1e-1.
    CAVUM_CHECK_NEAR(left.r_m / (before * before), right.r_m / (h * h), 1e-13);
  }
}
END_TEST

/** Largest distance of the spline from the unit circle. */
static double circle_error(int n) {
  cavum_point points[65];
  cavum_curve spans[64];
  double worst = 0.0;
  circle_points(points, n);
  cavum_spline_through_points(spans, points, n, CAVUM_BOUNDARY_METAL, NULL, NULL);
  for (int i = 0; i + 1 < n; i++) {
    for (int k = 1; k < 10; k++) {
      cavum_point point = cavum_curve_point(&spans[i], 0.1 * k);
      worst = fmax(worst, fabs(hypot(point.z_m, point.r_m) - 1.0));
    }
  }
  return worst;
}

// A cubic spline errs by h^4 [deBoor1978]; with a natural end condition it would be h^2 at the
// ends. Halving h must gain close to 16; 10 leaves room for the uneven spacing.
START_TEST(spline_converges_to_the_fourth_order) {
  double coarse = circle_error(17), fine = circle_error(33), finest = circle_error(65);
  printf("spline on a quarter circle: %.3e %.3e %.3e\n", coarse, fine, finest);
  ck_assert_msg(coarse / fine > 10.0, "gain %.2f, expected about 16", coarse / fine);
  ck_assert_msg(fine / finest > 10.0, "gain %.2f, expected about 16", fine / finest);
}
END_TEST

START_TEST(short_splines) {
  cavum_point points[4] = {{0.0, 1.0}, {1.0, 2.0}, {3.0, 2.5}, {3.0, 2.5}};
  cavum_curve spans[3];
  ck_assert_int_eq(cavum_spline_through_points(spans, points, 2, CAVUM_BOUNDARY_METAL, NULL, NULL),
                   CAVUM_OK);
  cavum_point middle = cavum_curve_point(&spans[0], 0.5);
  CAVUM_CHECK_NEAR(middle.z_m, 0.5, 1e-15);
  CAVUM_CHECK_NEAR(middle.r_m, 1.5, 1e-15);
  ck_assert_int_eq(cavum_spline_through_points(spans, points, 3, CAVUM_BOUNDARY_METAL, NULL, NULL),
                   CAVUM_OK);
  CAVUM_CHECK_NEAR(spans[0].cubic[3].r_m, 0.0, 0.0);  // one parabola
  cavum_error error = {0};
  ck_assert_int_eq(
      cavum_spline_through_points(spans, points, 4, CAVUM_BOUNDARY_METAL, NULL, &error),
      CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_nonnull(strstr(error.message, "spline point 3 repeats"));
}
END_TEST

// With its true directions a spline on a circle errs by h^4 as well, and the ends have them.
START_TEST(stated_directions) {
  const cavum_spline_ends ends = {.is_stated = {true, true}, .direction = {{0, 1}, {-1, 0}}};
  double worst[2] = {0.0, 0.0};
  for (int k = 0; k < 2; k++) {
    cavum_point points[65];
    cavum_curve spans[64];
    int n = k == 0 ? 17 : 33;
    circle_points(points, n);
    ck_assert_int_eq(
        cavum_spline_through_points(spans, points, n, CAVUM_BOUNDARY_METAL, &ends, NULL), CAVUM_OK);
    cavum_point start = cavum_curve_derivative(&spans[0], 0.0);
    cavum_point end = cavum_curve_derivative(&spans[n - 2], 1.0);
    CAVUM_CHECK_NEAR(start.z_m / start.r_m, 0.0, 1e-14);
    CAVUM_CHECK_NEAR(end.r_m / end.z_m, 0.0, 1e-14);
    ck_assert(start.r_m > 0.0 && end.z_m < 0.0);
    for (int i = 0; i + 1 < n; i++) {
      for (int j = 1; j < 10; j++) {
        cavum_point point = cavum_curve_point(&spans[i], 0.1 * j);
        worst[k] = fmax(worst[k], fabs(hypot(point.z_m, point.r_m) - 1.0));
      }
    }
  }
  printf("spline with directions on a quarter circle: %.3e %.3e\n", worst[0], worst[1]);
  ck_assert_msg(worst[0] / worst[1] > 10.0, "gain %.2f, expected about 16", worst[0] / worst[1]);
}
END_TEST

// Points on a straight line have chord lengths that are arc lengths: the spline is that line.
START_TEST(spline_reproduces_a_line) {
  cavum_point points[5] = {{0, 0}, {1, 2}, {1.5, 3}, {4, 8}, {4.25, 8.5}};
  cavum_curve spans[4];
  ck_assert_int_eq(cavum_spline_through_points(spans, points, 5, CAVUM_BOUNDARY_METAL, NULL, NULL),
                   CAVUM_OK);
  for (int i = 0; i < 4; i++) {
    cavum_point point = cavum_curve_point(&spans[i], 0.3);
    CAVUM_CHECK_NEAR(point.r_m, 2.0 * point.z_m, 1e-14);
    CAVUM_CHECK_NEAR(spans[i].cubic[2].z_m, 0.0, 1e-14);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, ends_are_exact);
  tcase_add_test(tests, derivatives_match_differences);
  tcase_add_test(tests, ellipse_length_is_exact);
  tcase_add_test(tests, length_is_additive);
  tcase_add_test(tests, length_of_a_cusp_is_exact);
  tcase_add_test(tests, arc_is_fitted_to_its_ends);
  tcase_add_test(tests, arcs_that_cannot_be_are_refused);
  tcase_add_test(tests, spline_is_smooth_in_second_derivatives);
  tcase_add_test(tests, spline_converges_to_the_fourth_order);
  tcase_add_test(tests, short_splines);
  tcase_add_test(tests, spline_reproduces_a_line);
  tcase_add_test(tests, stated_directions);
}

CAVUM_TEST_MAIN("curve", add_tests)
