// SPDX-License-Identifier: GPL-3.0-or-later
// Observed orders of convergence. Elements of degree q on an exact domain: eigenvalues as h^(2q)
// [Strang, Fix, An Analysis of the Finite Element Method, 1973; Boffi, Acta Numerica 19, 1 (2010)].
// Nodes of order g on a curved wall cap that: straight sides at h^2, order 2 and 3 at h^4, order 4
// and 5 at h^6 (one more for even g, because the interpolation error averages out along an edge).
#include "closed_cavities.h"
#include "grid_msh.h"

static const double RADIUS = 0.1, LENGTH = 0.12, INNER = 0.05, OUTER = 0.1;
enum { DEGREES = 3 };

// Between two spheres: s the angle from the negative axis over pi, t the radius.
static cavum_point shell(double s, double t, const void *context) {
  (void)context;
  // sin(pi s) at s = 1 must be 0 and not 1e-16.
  return (cavum_point){-t * cos(PI * s), s == 1.0 ? 0.0 : t * sin(PI * s)};
}

// Frequency at a degree and the two below it on one grid.
static void solve_grid(double frequency[DEGREES], const grid_msh *grid, int degree) {
  cavum_solve_options options = cavum_solve_options_default();
  options.degree = degree;
  grid_request request = {
      .count = 1, .accuracy_frequency = 0.1, .accuracy_other_figures = 0.5, .may_miss = true};
  cavum_result *result = grid_solve(grid, &request, &options);
  ck_assert_int_eq(result->num_steps, DEGREES);
  for (int i = 0; i < DEGREES; i++) {
    ck_assert_int_eq(result->steps[i].degree, degree - DEGREES + 1 + i);
    frequency[i] = result->steps[i].frequency_hz;
  }
  cavum_result_destroy(&result);
}

static void pillbox_errors(double error[DEGREES], int cells, bool triangles) {
  double s[33], t[33], frequency[DEGREES], truth;
  grid_equal_steps(s, cells, 0.0, LENGTH);
  grid_equal_steps(t, cells, 0.0, RADIUS);
  grid_msh grid = {.num_s = cells,
                   .num_t = cells,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .triangles = triangles,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  solve_grid(frequency, &grid, DEGREES);
  truth = 299792458.0 * closed_pillbox(RADIUS, LENGTH, 1, 0).k_per_m / (2 * PI);
  for (int i = 0; i < DEGREES; i++) error[i] = frequency[i] / truth - 1.0;
}

static void shell_errors(double error[DEGREES], int cells, int order, bool triangles, int degree) {
  double s[65], t[33], frequency[DEGREES], truth;
  grid_equal_steps(s, 2 * cells, 0.0, 1.0);
  grid_equal_steps(t, cells, INNER, OUTER);
  grid_msh grid = {.num_s = 2 * cells,
                   .num_t = cells,
                   .s = s,
                   .t = t,
                   .order = order,
                   .triangles = triangles,
                   .unit_m = 1.0,
                   .map = shell,
                   .sides = {CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_AXIS}};
  solve_grid(frequency, &grid, degree);
  truth = 299792458.0 * closed_shell(INNER, OUTER, 1, 1).k_per_m / (2 * PI);
  for (int i = 0; i < DEGREES; i++) error[i] = frequency[i] / truth - 1.0;
}

static double order_of(double coarse, double fine) { return log2(fabs(coarse / fine)); }

// An order observed between two grids is off by the next terms of the error series, which on these
// grids are about a tenth of the leading one: 0.15 of an order, the curved ones twice that.
static void check_order(const char *what, int degree, double coarse, double fine, double expected) {
  double order = order_of(coarse, fine);
  printf(
      "%s degree %d: relative errors %.3e and %.3e, observed order %.2f, expected %.0f +- 0.35\n",
      what, degree, coarse, fine, order, expected);
  ck_assert_msg(fabs(order - expected) <= 0.35, "%s degree %d: order %.2f, expected %.0f", what,
                degree, order, expected);
}

START_TEST(degree_sets_the_order_on_a_straight_domain) {
  for (int triangles = 0; triangles < 2; triangles++) {
    double coarse[DEGREES], fine[DEGREES];
    pillbox_errors(coarse, 6, triangles);
    pillbox_errors(fine, 12, triangles);
    for (int i = 0; i < DEGREES; i++) {
      check_order(triangles ? "pillbox, triangles" : "pillbox, quadrilaterals", i + 1, coarse[i],
                  fine[i], 2.0 * (i + 1));
      // Conforming elements on the exact domain: from above, falling under refinement and degree.
      ck_assert_double_gt(fine[i], 0.0);
      ck_assert_double_lt(fine[i], coarse[i]);
      if (i > 0) ck_assert_double_lt(fine[i], fine[i - 1]);
    }
  }
}
END_TEST

START_TEST(degree_sets_the_order_on_a_curved_domain) {
  for (int triangles = 0; triangles < 2; triangles++) {
    double coarse[DEGREES], fine[DEGREES];
    // Nodes of order 5: the geometry error falls as h^6 like that of degree 3, a thousand times
    // smaller in size.
    shell_errors(coarse, 4, 5, triangles, DEGREES);
    shell_errors(fine, 8, 5, triangles, DEGREES);
    for (int i = 0; i < DEGREES; i++) {
      check_order(triangles ? "shell, triangles" : "shell, quadrilaterals", i + 1, coarse[i],
                  fine[i], 2.0 * (i + 1));
    }
  }
}
END_TEST

START_TEST(geometry_caps_the_order) {
  // Degree 5 would give h^10, so that the geometry alone is seen.
  static const struct { int nodes, expected; } cases[] = {{1, 2}, {2, 4}, {3, 4}};
  double size[3];
  for (int i = 0; i < 3; i++) {
    double coarse[DEGREES], fine[DEGREES];
    char what[64];
    shell_errors(coarse, 6, cases[i].nodes, false, 5);
    shell_errors(fine, 12, cases[i].nodes, false, 5);
    snprintf(what, sizeof what, "shell, nodes of order %d,", cases[i].nodes);
    check_order(what, 5, coarse[DEGREES - 1], fine[DEGREES - 1], cases[i].expected);
    size[i] = fabs(fine[DEGREES - 1]);
  }
  // The error constants too: each step of the geometry pays (an order test does not see mistakes of
  // the scheme's own order).
  ck_assert_double_lt(size[1], 1e-2 * size[0]);
  ck_assert_double_lt(size[2], size[1]);
}
END_TEST

// p-convergence: exponential for an analytic field, until rounding. The field is even in r, so
// degrees come in pairs: two more divide the error by ten thousand on this grid of 2 x 2, each one
// by two at the least.
START_TEST(error_falls_exponentially_with_the_degree) {
  double s[3], t[3];
  grid_equal_steps(s, 2, 0.0, LENGTH);
  grid_equal_steps(t, 2, 0.0, RADIUS);
  grid_msh grid = {.num_s = 2,
                   .num_t = 2,
                   .s = s,
                   .t = t,
                   .order = 1,
                   .unit_m = 1.0,
                   .map = grid_identity,
                   .sides = {CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_METAL,
                             CAVUM_BOUNDARY_METAL}};
  double truth = 299792458.0 * closed_pillbox(RADIUS, LENGTH, 1, 0).k_per_m / (2 * PI);
  grid_request request = {
      .count = 1, .accuracy_frequency = 0.1, .accuracy_other_figures = 0.5, .may_miss = true};
  double error[12] = {0};
  for (int degree = 3; degree <= 9; degree += 3) {
    cavum_solve_options options = cavum_solve_options_default();
    options.degree = degree;
    cavum_result *result = grid_solve(&grid, &request, &options);
    for (int i = 0; i < result->num_steps; i++) {
      error[result->steps[i].degree] = result->steps[i].frequency_hz / truth - 1.0;
    }
    cavum_result_destroy(&result);
  }
  for (int p = 1; p <= 9; p++) printf("degree %d: relative error %.3e\n", p, error[p]);
  // By degree 7 the error is at rounding: a few 1e-15 times the condition of the condensation.
  ck_assert_double_lt(fabs(error[7]), 1e-12);
  ck_assert_double_lt(fabs(error[9]), 1e-12);
  for (int p = 2; p <= 5; p++) {
    ck_assert_double_gt(error[p], 0.0);  // Rayleigh quotient: from above
    ck_assert_double_lt(error[p], error[p - 1] / 2.0);
    if (p > 2) ck_assert_double_lt(error[p], error[p - 2] / 1e4);
  }
}
END_TEST

// A polygon inside a sphere is another domain: f comes out on the other side for some grids, and
// the stated uncertainty has to cover it all the same, for every node order.
START_TEST(uncertainty_covers_the_geometry_of_a_mesh_file) {
  static tally all;
  closed_form mode = closed_shell(INNER, OUTER, 1, 1);
  closed_form_figures truth = closed_form_compute(&mode, 1.0, 2.0 * OUTER, 1.0);
  for (int order = 1; order <= 4; order++) {
    for (int cells = 4; cells <= 8; cells += 2) {
      double s[33], t[17];
      char where[64];
      grid_equal_steps(s, 2 * cells, 0.0, 1.0);
      grid_equal_steps(t, cells, INNER, OUTER);
      grid_msh grid = {.num_s = 2 * cells,
                       .num_t = cells,
                       .s = s,
                       .t = t,
                       .order = order,
                       .triangles = cells == 6,
                       .unit_m = 1e-3,
                       .map = shell,
                       .sides = {CAVUM_BOUNDARY_METAL, CAVUM_BOUNDARY_AXIS, CAVUM_BOUNDARY_METAL,
                                 CAVUM_BOUNDARY_AXIS}};
      grid_request request = {.count = 1,
                              .unit = "mm",
                              .accuracy_frequency = 1e-6,
                              .accuracy_other_figures = 1e-4,
                              .more =
                                  "accelerating_length_mm: 200\n"
                                  "wall: {kind: resistance, surface_resistance_nohm: 1e9}\n",
                              .may_miss = true};
      // The inner wall of a straight-sided mesh is full of re-entrant corners: no degree settles
      // it.
      cavum_solve_options options = cavum_solve_options_default();
      options.degree = 8;
      cavum_result *result = grid_solve(&grid, &request, &options);
      snprintf(where, sizeof where, "shell, order %d, %d cells", order, cells);
      closed_form_compare(&all, where, &result->modes[0], &truth);
      cavum_result_destroy(&result);
    }
  }
  tally_check(&all, "mesh files of every node order", 1.0, TALLY_MEDIAN_MOST);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, degree_sets_the_order_on_a_straight_domain);
  tcase_add_test(tests, degree_sets_the_order_on_a_curved_domain);
  tcase_add_test(tests, geometry_caps_the_order);
  tcase_add_test(tests, error_falls_exponentially_with_the_degree);
  tcase_add_test(tests, uncertainty_covers_the_geometry_of_a_mesh_file);
}

CAVUM_TEST_MAIN("orders", add_tests)
