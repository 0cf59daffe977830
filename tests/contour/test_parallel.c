// SPDX-License-Identifier: GPL-3.0-or-later
// Parallel curves: against the formula of a normal, differences of their numbers, and the way back.
#include <string.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/offset.h"
#include "contour/parallel.h"
#include "support.h"

static cavum_curve make_ellipse(void) {
  cavum_curve c = {.kind = CAVUM_CURVE_ELLIPSE,
                   .boundary = CAVUM_BOUNDARY_METAL,
                   .centre = {0.01, 0.05},
                   .axial_m = 0.012,
                   .radial_m = 0.019,
                   .angle_start_rad = -1.5,
                   .angle_end_rad = -2.9};
  c.start = (cavum_point){0.01 + 0.012 * cos(-1.5), 0.05 + 0.019 * sin(-1.5)};
  c.end = (cavum_point){0.01 + 0.012 * cos(-2.9), 0.05 + 0.019 * sin(-2.9)};
  return c;
}

static cavum_curve make_cubic(void) {
  cavum_curve c = {.kind = CAVUM_CURVE_CUBIC, .boundary = CAVUM_BOUNDARY_METAL};
  const cavum_point k[4] = {{0.0, 0.05}, {0.02, 0.01}, {0.003, -0.004}, {0.001, 0.002}};
  memcpy(c.cubic, k, sizeof k);
  c.start = k[0];
  c.end = (cavum_point){0.024, 0.058};
  return c;
}

static cavum_curve make_parallel(cavum_curve base, const cavum_parallel_layer *layers) {
  base.kind = base.kind == CAVUM_CURVE_CUBIC ? CAVUM_CURVE_PARALLEL_OF_CUBIC
                                             : CAVUM_CURVE_PARALLEL_OF_ELLIPSE;
  cavum_parallel_set(&base, layers);
  base.start = cavum_parallel_at(&base, 0.0).point;
  base.end = cavum_parallel_at(&base, 1.0).point;
  return base;
}

static const cavum_parallel_layer LAYERS[CAVUM_PARALLEL_LAYERS] = {
    {2e-4, 1e-3}, {-1e-4, 0.0}, {3e-4, -2e-3}, {0.0, 0.0}};

static cavum_curve make_of(int kind, const cavum_parallel_layer *layers) {
  return make_parallel(kind == 0 ? make_ellipse() : make_cubic(), layers);
}

// One offset: the distance is the same everywhere and along the normal.
START_TEST(one_offset_is_the_normal_of_the_base) {
  const cavum_parallel_layer one[CAVUM_PARALLEL_LAYERS] = {{3e-4, 0.0}};
  cavum_curve base = _i == 0 ? make_ellipse() : make_cubic();
  cavum_curve moved = make_parallel(base, one);
  for (double t = 0.05; t < 1.0; t += 0.1) {
    cavum_point p = cavum_curve_point(&base, t), d = cavum_curve_derivative(&base, t);
    cavum_point q = cavum_curve_point(&moved, t);
    double speed = hypot(d.z_m, d.r_m);
    CAVUM_CHECK_NEAR(q.z_m, p.z_m + 3e-4 * d.r_m / speed, 1e-16);
    CAVUM_CHECK_NEAR(q.r_m, p.r_m - 3e-4 * d.z_m / speed, 1e-16);
  }
}
END_TEST

// Derivatives by t against differences: their error is of the fourth order, rounding over the step.
START_TEST(derivatives_are_those_of_the_points) {
  cavum_curve c = make_of(_i, LAYERS);
  const double h = 1e-3;
  for (double t = 0.1; t < 0.95; t += 0.2) {
    cavum_parallel_place at = cavum_parallel_at(&c, t);
    cavum_parallel_place p1 = cavum_parallel_at(&c, t + h), m1 = cavum_parallel_at(&c, t - h);
    cavum_parallel_place p2 = cavum_parallel_at(&c, t + 2 * h),
                         m2 = cavum_parallel_at(&c, t - 2 * h);
    double first = (8 * (p1.point.z_m - m1.point.z_m) - (p2.point.z_m - m2.point.z_m)) / (12 * h);
    double second = (8 * (p1.first.r_m - m1.first.r_m) - (p2.first.r_m - m2.first.r_m)) / (12 * h);
    CAVUM_CHECK_NEAR(at.first.z_m, first, 1e-12);
    CAVUM_CHECK_NEAR(at.second.r_m, second, 1e-10);
    cavum_point point, slope;
    cavum_curve_at(&point, &slope, &c, t);
    ck_assert(point.z_m == at.point.z_m && slope.r_m == at.first.r_m);
  }
}
END_TEST

enum { NUMBERS = sizeof(cavum_curve_rate) / sizeof(double), FIRST = 4 };

// A curve with one of its numbers changed; numbers as in cavum_curve_rate.
static cavum_curve changed(const cavum_curve *c, int number, double by) {
  cavum_curve_rate numbers = {.centre = c->centre,
                              .axial_m = c->axial_m,
                              .radial_m = c->radial_m,
                              .angle_start_rad = c->angle_start_rad,
                              .angle_end_rad = c->angle_end_rad};
  memcpy(numbers.cubic, c->cubic, sizeof numbers.cubic);
  double list[NUMBERS];
  memcpy(list, &numbers, sizeof list);
  list[number] += by;
  memcpy(&numbers, list, sizeof list);
  cavum_curve other = *c;
  other.centre = numbers.centre;
  other.axial_m = numbers.axial_m;
  other.radial_m = numbers.radial_m;
  other.angle_start_rad = numbers.angle_start_rad;
  other.angle_end_rad = numbers.angle_end_rad;
  memcpy(other.cubic, numbers.cubic, sizeof other.cubic);
  return other;
}

START_TEST(rates_are_those_of_the_numbers) {
  cavum_curve c = make_of(_i, LAYERS);
  const double t = 0.3, h = 1e-6;
  for (int k = FIRST; k < NUMBERS; k++) {
    double list[NUMBERS] = {0.0};
    list[k] = 1.0;
    cavum_curve_rate one, gradient = {0};
    memcpy(&one, list, sizeof one);
    cavum_point point, slope;
    cavum_curve_rate_at(&point, &slope, &c, &one, t);
    cavum_curve more = changed(&c, k, h), less = changed(&c, k, -h);
    cavum_parallel_place a = cavum_parallel_at(&more, t), b = cavum_parallel_at(&less, t);
    // Of the second order in h, over sizes of a centimetre: 1e-12 / 1e-4; rounding 1e-17 / h.
    double limit = 1e-7;
    CAVUM_CHECK_NEAR(point.z_m, (a.point.z_m - b.point.z_m) / (2 * h), limit);
    CAVUM_CHECK_NEAR(slope.r_m, (a.first.r_m - b.first.r_m) / (2 * h), limit);
    // The transpose has the same numbers.
    cavum_curve_place place = cavum_curve_place_at(&c, t);
    cavum_curve_rate_add(&gradient, &c, &place, (cavum_point){2.0, 0.0}, (cavum_point){0.0, 3.0});
    memcpy(list, &gradient, sizeof list);
    CAVUM_CHECK_NEAR(list[k], 2.0 * point.z_m + 3.0 * slope.r_m, 1e-13);
  }
}
END_TEST

// ---- contours

// A cup: axis, plate, fillet of a circle, slanted wall, ellipse, back along a plane.
static cavum_contour make_cup(void) {
  static cavum_curve curves[6];
  cavum_point p[] = {{0.0, 0.0},   {0.06, 0.0},    {0.06, 0.04},
                     {0.05, 0.05}, {0.012, 0.055}, {0.0, 0.07}};
  for (int i = 0; i < 6; i++) {
    curves[i] = (cavum_curve){.kind = CAVUM_CURVE_LINE,
                              .boundary = CAVUM_BOUNDARY_METAL,
                              .start = p[i],
                              .end = p[(i + 1) % 6]};
  }
  curves[0].boundary = CAVUM_BOUNDARY_AXIS;
  curves[5].boundary = CAVUM_BOUNDARY_MAGNETIC;
  curves[2].kind = CAVUM_CURVE_ELLIPSE;  // turns left, about (50, 40) mm
  curves[2].centre = (cavum_point){0.05, 0.04};
  curves[2].axial_m = curves[2].radial_m = 0.01;
  curves[2].angle_end_rad = 0.5 * CAVUM_PI;
  curves[4].kind = CAVUM_CURVE_ELLIPSE;  // turns left, about (0, 55) mm, up to the plane
  curves[4].centre = (cavum_point){0.0, 0.055};
  curves[4].axial_m = 0.012;
  curves[4].radial_m = 0.015;
  curves[4].angle_start_rad = 0.0;
  curves[4].angle_end_rad = 0.5 * CAVUM_PI;
  return (cavum_contour){6, curves};
}

static void offsets_of(double offsets[6], double depth_m) {
  for (int i = 0; i < 6; i++) offsets[i] = i == 0 || i == 5 ? 0.0 : depth_m;
}

static double largest_miss(const cavum_contour *a, const cavum_contour *b) {
  double largest = 0.0;
  for (cavum_index i = 0; i < a->num_curves; i++) {
    for (double t = 0.0; t <= 1.0; t += 0.125) {
      cavum_point p = cavum_curve_point(&a->curves[i], t), q = cavum_curve_point(&b->curves[i], t);
      largest = fmax(largest, hypot(p.z_m - q.z_m, p.r_m - q.r_m));
    }
  }
  return largest;
}

static cavum_contour move(const cavum_contour *contour, double depth_m) {
  cavum_contour moved = {0};
  cavum_error error = {0};
  double offsets[6];
  offsets_of(offsets, depth_m);
  cavum_status status = cavum_contour_move_along_normals(&moved, contour, offsets, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  status = cavum_contour_check(&moved, NULL, NULL, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return moved;
}

START_TEST(corners_stay_sharp_and_planes_stay) {
  cavum_contour cup = make_cup(), moved = move(&cup, 1e-4);
  CAVUM_CHECK_NEAR(moved.curves[1].start.z_m, 0.0601, 1e-16);  // the plate goes on to the axis
  ck_assert(moved.curves[1].start.r_m == 0.0);
  ck_assert_int_eq(moved.curves[2].kind, CAVUM_CURVE_ELLIPSE);
  CAVUM_CHECK_NEAR(moved.curves[2].axial_m, 0.0101, 1e-16);
  ck_assert_int_eq(moved.curves[4].kind, CAVUM_CURVE_PARALLEL_OF_ELLIPSE);
  ck_assert(moved.curves[5].start.z_m == 0.0);
  CAVUM_CHECK_NEAR(moved.curves[5].start.r_m, 0.07 + 1e-4, 1e-16);
  cavum_contour_clear(&moved);
}
END_TEST

START_TEST(a_move_and_its_reverse_cancel) {
  cavum_contour cup = make_cup(), there = move(&cup, 3e-4), back = move(&there, -3e-4);
  CAVUM_CHECK_NEAR(largest_miss(&cup, &back), 0.0, 1e-15);
  ck_assert_int_eq(back.curves[4].kind, CAVUM_CURVE_ELLIPSE);
  cavum_contour_clear(&back);
  // Two moves are one.
  cavum_contour half = move(&cup, 1e-4), twice = move(&half, 2e-4);
  CAVUM_CHECK_NEAR(largest_miss(&there, &twice), 0.0, 1e-15);
  cavum_contour_clear(&half);
  cavum_contour_clear(&twice);
  cavum_contour_clear(&there);
}
END_TEST

// A scaling commutes with an offset that is scaled with it.
START_TEST(scaling_and_moving_commute) {
  cavum_contour cup = make_cup(), a = move(&cup, 1e-4), b = move(&cup, 0.0);
  cavum_contour_scale(&a, 0.999, 0.999);
  cavum_contour_scale(&b, 0.999, 0.999);
  cavum_contour c = move(&b, 0.999e-4);
  CAVUM_CHECK_NEAR(largest_miss(&a, &c), 0.0, 1e-15);
  // Stretching back restores, also what was moved before.
  cavum_contour d = move(&cup, 1e-4);
  cavum_contour_scale(&d, 1.002, 1.0);
  cavum_contour e = move(&d, 2e-4), f = move(&e, -2e-4);
  cavum_contour_scale(&f, 1.0 / 1.002, 1.0);
  cavum_contour_scale(&f, 0.999, 0.999);
  CAVUM_CHECK_NEAR(largest_miss(&a, &f), 0.0, 1e-15);
  cavum_contour_clear(&a);
  cavum_contour_clear(&b);
  cavum_contour_clear(&c);
  cavum_contour_clear(&d);
  cavum_contour_clear(&e);
  cavum_contour_clear(&f);
}
END_TEST

static void refuse(double depth_m, const char *with) {
  cavum_contour cup = make_cup(), moved = {0};
  cavum_error error = {0};
  double offsets[6];
  offsets_of(offsets, depth_m);
  cavum_status status = cavum_contour_move_along_normals(&moved, &cup, offsets, &error);
  printf("%s\n", error.message);
  ck_assert_int_eq(status, CAVUM_ERR_GEOMETRY);
  ck_assert_ptr_nonnull(strstr(error.message, with));
  ck_assert_ptr_null(moved.curves);
}

// Smallest radius of curvature of the ellipse: 12^2 / 15 = 9.6 mm at its top.
START_TEST(what_is_swallowed_has_its_place) {
  refuse(-9.7e-3, "piece 5 of the contour is swallowed at z = ");
  refuse(-10.1e-3, "piece 3 of the contour is swallowed at z = ");
}
END_TEST

static void add(TCase *tests) {
  tcase_add_loop_test(tests, one_offset_is_the_normal_of_the_base, 0, 2);
  tcase_add_loop_test(tests, derivatives_are_those_of_the_points, 0, 2);
  tcase_add_loop_test(tests, rates_are_those_of_the_numbers, 0, 2);
  tcase_add_test(tests, corners_stay_sharp_and_planes_stay);
  tcase_add_test(tests, a_move_and_its_reverse_cancel);
  tcase_add_test(tests, scaling_and_moving_commute);
  tcase_add_test(tests, what_is_swallowed_has_its_place);
}

CAVUM_TEST_MAIN("parallel", add)
