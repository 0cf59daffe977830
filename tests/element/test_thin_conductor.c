// SPDX-License-Identifier: GPL-3.0-or-later
// What polynomials lack beside thin conductors: closed forms of low degrees, the rate of high ones,
// and which elements of a mesh count.
#include <math.h>

#include "base/base.h"
#include "element/thin_conductor.h"
#include "element/topology.h"
#include "support.h"

// Degree 0: u = r^2, so du/dr = 2 r, and int_1^R 4 r dr = 2 (R^2 - 1).
START_TEST(degree_0_has_a_closed_form) {
  for (double ratio = 1.5; ratio < 1000.0; ratio *= 3.0) {
    double expected = 2.0 * (ratio * ratio - 1.0) / log(ratio);
    CAVUM_CHECK_NEAR(cavum_thin_misfit(ratio, 0), expected, 1e-13 * expected);  // roundings
  }
}
END_TEST

// Degree 1: g = c0 + c1 r with int_0^1 r g dr = c0 / 2 + c1 / 3 = 1 and least int_1^R r g^2 dr, by
// the inverse of the 2 x 2 matrix of the moments.
START_TEST(degree_1_has_a_closed_form) {
  for (double ratio = 1.5; ratio < 1000.0; ratio *= 3.0) {
    double a = (pow(ratio, 2) - 1.0) / 2.0, b = (pow(ratio, 3) - 1.0) / 3.0;
    double c = (pow(ratio, 4) - 1.0) / 4.0;
    double sum = (c / 4.0 - b / 3.0 + a / 9.0) / (a * c - b * b);
    double expected = 1.0 / (sum * log(ratio));
    // a c - b^2 cancels to some 1e-3 of its terms at the least ratio.
    CAVUM_CHECK_NEAR(cavum_thin_misfit(ratio, 1), expected, 1e-11 * expected);
  }
}
END_TEST

// The polynomials on [a, b] grow as rho^n towards the axis (Bernstein), and r phi_n is largest
// within 1 / n^2 of it: p^4 rho^(-2 p).
START_TEST(misfit_falls_as_bernstein_says) {
  const double ratios[] = {2.0, 4.0, 13.0};
  for (int i = 0; i < 3; i++) {
    double root = sqrt(ratios[i]), rho = (root + 1.0) / (root - 1.0);
    double fall = cavum_thin_misfit(ratios[i], 15) / cavum_thin_misfit(ratios[i], 14);
    double expected = pow(15.0 / 14.0, 4.0) / (rho * rho);
    CAVUM_CHECK_NEAR(fall, expected, 0.1 * expected);  // the next term of 1 / p
  }
}
END_TEST

// A cell of radius 80 mm with a conductor of radius a from z = 0 to 30 mm, by one element on it,
// and one that touches the axis beside its tip.
enum { NUM_POINTS = 7 };
typedef struct needle {
  cavum_mesh mesh;
  cavum_point points[NUM_POINTS];
  cavum_element elements[2];
} needle;

static void make_needle(needle *made, double radius_m, double outer_m, double axis_m) {
  *made = (needle){.points = {{0.0, radius_m},
                              {0.03, radius_m},
                              {0.03, outer_m},
                              {0.0, outer_m},
                              {0.03, axis_m},
                              {0.06, axis_m},
                              {0.06, 0.08}},
                   .elements = {{.num_corners = 4, .vertex = {0, 1, 2, 3}},
                                {.num_corners = 4, .vertex = {4, 5, 6, 1}}}};
  made->mesh = (cavum_mesh){.num_vertices = NUM_POINTS,
                            .vertices = made->points,
                            .num_elements = 2,
                            .elements = made->elements};
  ck_assert_int_eq(cavum_topology_build_edges(&made->mesh, NULL), CAVUM_OK);
  made->mesh.edges[made->elements[0].edge[0]].boundary = CAVUM_BOUNDARY_METAL;
  made->mesh.edges[made->elements[1].edge[3]].boundary = CAVUM_BOUNDARY_METAL;
}

// The side is 30 mm long and begins 30 mm from the tip: s = 60 mm.
START_TEST(an_element_counts_above_what_it_lacks) {
  const double a = 2e-5, b = 1e-3, k2 = 700.0, s = 0.06;
  needle made;
  make_needle(&made, a, b, 0.0);
  double from_tip = hypot(s / 2.0, a);
  double lack = cavum_thin_misfit(b / a, 8) / (a * a) / (k2 + 1.0 / pow(s / 2.0 + from_tip, 2));
  printf("lack %g\n", lack);
  ck_assert_double_gt(lack, 1e3);  // as a needle that was not felt
  ck_assert(cavum_thin_conductor_find(&made.mesh, 8, k2, 1.001 * lack).part == 0.0);
  cavum_thin_conductor found = cavum_thin_conductor_find(&made.mesh, 8, k2, 0.999 * lack);
  ck_assert(found.part == 1.0);  // k s is above 1
  ck_assert(found.place.z_m == 0.0 && found.place.r_m == a);
  double k = 1e-3 / s;
  CAVUM_CHECK_NEAR(cavum_thin_conductor_find(&made.mesh, 8, k * k, 0.1).part, pow(1e-3, 1.4),
                   1e-6 * pow(1e-3, 1.4));  // s is a part of 1e-7 longer
  free(made.mesh.edges);
}
END_TEST

START_TEST(elements_that_are_fine_enough_do_not_count) {
  needle made;
  make_needle(&made, 2e-2, 6e-2, 0.0);
  ck_assert(cavum_thin_conductor_find(&made.mesh, 8, 700.0, CAVUM_THIN_LACK_MOST).part == 0.0);
  free(made.mesh.edges);
}
END_TEST

// Without a point on the axis the unknown is r H, which is constant there.
START_TEST(cells_that_do_not_touch_the_axis_lack_nothing) {
  needle made;
  make_needle(&made, 2e-5, 1e-3, 1e-6);
  ck_assert(cavum_thin_conductor_find(&made.mesh, 8, 700.0, 0.0).part == 0.0);
  free(made.mesh.edges);
}
END_TEST

// Walls that face the axis, and those that are no conductors, may be as they like.
START_TEST(other_sides_do_not_count) {
  needle made;
  make_needle(&made, 2e-5, 1e-3, 0.0);
  made.mesh.edges[made.elements[0].edge[0]].boundary = CAVUM_BOUNDARY_MAGNETIC;
  made.mesh.edges[made.elements[0].edge[2]].boundary = CAVUM_BOUNDARY_METAL;
  ck_assert(cavum_thin_conductor_find(&made.mesh, 8, 700.0, CAVUM_THIN_LACK_MOST).part == 0.0);
  free(made.mesh.edges);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, degree_0_has_a_closed_form);
  tcase_add_test(tests, degree_1_has_a_closed_form);
  tcase_add_test(tests, misfit_falls_as_bernstein_says);
  tcase_add_test(tests, an_element_counts_above_what_it_lacks);
  tcase_add_test(tests, elements_that_are_fine_enough_do_not_count);
  tcase_add_test(tests, cells_that_do_not_touch_the_axis_lack_nothing);
  tcase_add_test(tests, other_sides_do_not_count);
}

CAVUM_TEST_MAIN("thin conductors", add)
