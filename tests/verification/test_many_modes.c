// SPDX-License-Identifier: GPL-3.0-or-later
// Many modes of closed cylinders against the list of their closed forms: none is missing, none is
// there twice, where modes are nearly degenerate too, the lowest and those about a frequency.
#include "closed_cavities.h"
#include "solving.h"

enum { MOST = 400 };
static const double RADIUS_M = 0.1;

static int by_value(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

// All TM0np of a cylinder up to some number, by rising frequency: Hz.
static void list_modes(double *hz, double radius_m, double length_m) {
  int count = 0;
  for (unsigned n = 1; n <= 20; n++) {
    for (int p = 0; p < 20; p++, count++) {
      double k = hypot(gsl_sf_bessel_zero_J0(n) / radius_m, p * PI / length_m);
      hz[count] = CAVUM_C_M_PER_S * k / (2.0 * PI);
    }
  }
  qsort(hz, (size_t)count, sizeof *hz, by_value);
}

static cavum_result *solve_refined(double length_m, int count, double near_hz, bool use_symmetry,
                                   double refinement) {
  char text[1024];
  cavum_solve_options options = cavum_solve_options_default();
  snprintf(text, sizeof text,
           "accelerating_length_mm: 100\ncontour:\n  kind: path\n  start: {z_mm: 0, r_mm: 0}\n"
           "  path:\n    - {line_to: {z_mm: %.17g, r_mm: 0}, boundary: axis}\n"
           "    - {line_to: {z_mm: %.17g, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: %.17g}, boundary: metal}\n"
           "    - {line_to: {z_mm: 0, r_mm: 0}, boundary: metal}\n"
           "modes: {count: %d}\n",
           1e3 * length_m, 1e3 * length_m, 1e3 * RADIUS_M, 1e3 * RADIUS_M, count);
  cavum_cell cell = solving_read(text);
  cell.near_hz = near_hz;
  options.use_symmetry = use_symmetry;
  options.refinement = refinement;
  cavum_result *result = solving_solve(&cell, &options);
  ck_assert_int_eq(result->num_modes, count);
  cavum_cell_clear(&cell);
  return result;
}

static cavum_result *solve(double length_m, int count, double near_hz, bool use_symmetry) {
  return solve_refined(length_m, count, near_hz, use_symmetry, 0.0);
}

// Each within its uncertainty, in order, from the first of the list on.
static void compare(const cavum_result *result, const double *hz) {
  double worst = 0.0;
  for (int m = 0; m < result->num_modes; m++) {
    const cavum_figure *f = &result->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
    worst = fmax(worst, fabs(f->value / hz[m] - 1.0));
    CAVUM_CHECK_NEAR(f->value, hz[m], f->uncertainty);
  }
  printf("%d modes, largest relative error %.1e\n", result->num_modes, worst);
}

// Length at which TM020 and TM012, of one symmetry class, are a part `apart` in k^2 from each
// other.
static double nearly_degenerate_length_m(double apart) {
  double first = gsl_sf_bessel_zero_J0(1), second = gsl_sf_bessel_zero_J0(2);
  double k2_along = (second * second * (1.0 + apart) - first * first) / (RADIUS_M * RADIUS_M);
  return 2.0 * PI / sqrt(k2_along);
}

START_TEST(lowest) {
  double hz[MOST], length_m = nearly_degenerate_length_m(1e-4);
  list_modes(hz, RADIUS_M, length_m);
  for (int whole = 0; whole < 2; whole++) {
    cavum_result *result = solve(length_m, 40, 0.0, whole == 0);
    compare(result, hz);
    cavum_result_destroy(&result);
  }
}
END_TEST

// Meshes of many elements are ordered by nested dissection and start at degree 1; halves have the
// unknowns of their mirror plane last all the same.
START_TEST(on_many_elements) {
  double hz[MOST], length_m = 0.09;
  list_modes(hz, RADIUS_M, length_m);
  cavum_result *result = solve_refined(length_m, 6, 0.0, true, 50.0);
  ck_assert(result->half_model);
  // Vertices and edges of a grid are three times its elements: more than 20,000 blocks.
  ck_assert_int_gt(result->mesh.num_elements, 6700);
  compare(result, hz);
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(about_a_frequency) {
  double hz[MOST], length_m = 0.083, near_hz = 8e9;
  list_modes(hz, RADIUS_M, length_m);
  cavum_result *result = solve(length_m, 30, near_hz, true);
  int first = 0;
  // The window of so many modes whose ends are closest to it in k^2, as the solver measures.
  while (hz[first + 30] * hz[first + 30] - near_hz * near_hz <
         near_hz * near_hz - hz[first] * hz[first]) {
    first++;
  }
  compare(result, hz + first);
  cavum_result_destroy(&result);
}
END_TEST

// The static mode of a ring is not counted: a coaxial line's modes are those of fewer asked for,
// which are found another way.
START_TEST(of_a_ring) {
  cavum_result *results[2] = {NULL};
  static const char text[] =
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 30}\n  path:\n"
      "    - {line_to: {z_mm: 130, r_mm: 30}, boundary: metal}\n"
      "    - {line_to: {z_mm: 130, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 30}, boundary: metal}\n";
  for (int i = 0; i < 2; i++) {
    cavum_cell cell = solving_read(text);
    cell.num_modes = i == 0 ? 12 : 30;
    results[i] = solving_solve(&cell, NULL);
    cavum_cell_clear(&cell);
  }
  // The lowest is the half wave along the line.
  CAVUM_CHECK_RELATIVE(results[1]->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value,
                       CAVUM_C_M_PER_S / 0.26, 1e-6);
  for (int m = 0; m < 12; m++) {
    const cavum_figure *a = &results[0]->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
    const cavum_figure *b = &results[1]->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
    CAVUM_CHECK_NEAR(a->value, b->value, a->uncertainty + b->uncertainty);
  }
  for (int i = 0; i < 2; i++) cavum_result_destroy(&results[i]);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, lowest);
  tcase_add_test(tests, on_many_elements);
  tcase_add_test(tests, about_a_frequency);
  tcase_add_test(tests, of_a_ring);
}

CAVUM_TEST_MAIN("verification.many_modes", add_tests)
