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
                                   double refinement, int degree) {
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
  options.degree = degree;
  cavum_result *result = solving_solve(&cell, &options);
  ck_assert_int_eq(result->num_modes, count);
  cavum_cell_clear(&cell);
  return result;
}

static cavum_result *solve(double length_m, int count, double near_hz, bool use_symmetry) {
  return solve_refined(length_m, count, near_hz, use_symmetry, 0.0, 0);
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
  cavum_result *result = solve_refined(length_m, 6, 0.0, true, 50.0, 0);
  ck_assert(result->half_model);
  // Vertices and edges of a grid are three times its elements: more than 20,000 blocks.
  ck_assert_int_gt(result->mesh.num_elements, 6700);
  compare(result, hz);
  cavum_result_destroy(&result);
}
END_TEST

// Of a high degree too, where the elements are small against the waves: those of a pillbox are some
// 2.7 for the square of the refinement. Two modes nearly coincide.
START_TEST(on_small_elements_of_a_high_degree) {
  double hz[MOST], length_m = nearly_degenerate_length_m(1e-4);
  list_modes(hz, RADIUS_M, length_m);
  cavum_result *result = solve_refined(length_m, 6, 0.0, true, 24.0, 7);
  printf("%d elements\n", (int)result->mesh.num_elements);
  ck_assert_int_eq(result->degree, 7);
  ck_assert_int_gt(result->mesh.num_elements * 25, 20000);
  compare(result, hz);
  cavum_result_destroy(&result);
}
END_TEST

// Where the modes nearest to a frequency begin in a list by rising frequency: the window whose
// farther end could not be exchanged for a nearer mode beyond the other one.
static int first_of_nearest(const double *hz, int count, double near_hz) {
  int first = 0;
  while (hz[first + count] - near_hz < near_hz - hz[first]) first++;
  return first;
}

// What is said to be complete holds all modes that are reported and no other of the list, and
// reaches as far on both sides as the farthest of them, but for a margin of 1e-5.
static void check_window(const cavum_result *result, const double *hz, int first, double near_hz) {
  int last = first + result->num_modes - 1;
  double farthest_hz = fmax(fabs(hz[first] - near_hz), fabs(hz[last] - near_hz));
  double low_hz = result->complete_above_hz, high_hz = result->complete_below_hz;
  ck_assert_double_le(low_hz, fmax((near_hz - farthest_hz) * (1.0 + 1e-5), 0.0));
  ck_assert_double_ge(high_hz, (near_hz + farthest_hz) * (1.0 - 1e-5));
  if (first > 0) ck_assert_double_gt(low_hz, hz[first - 1]);
  ck_assert_double_lt(high_hz, hz[last + 1]);
}

START_TEST(nearest_to_a_frequency) {
  static const struct {
    double length_m, near_hz;
    int count;
  } cases[] = {
      // The distances of both ends in frequency and in its square are in the other order: 4670.8
      // and 7207.2 MHz about 6000 MHz.
      {0.1373, 6e9, 15},  {0.1373, 6e9, 14}, {0.1373, 4.2e9, 9},
      {0.1373, 2.7e9, 1}, {0.11, 3.3e9, 2},  {0.11, 1e8, 3},  // below all
      {0.11, 2e9, 12},   // so many that all below are among them
      {0.083, 8e9, 30},  // from here on in slices
      {0.083, 5e9, 34},   {0.083, 3e9, 28},
  };
  double hz[MOST];
  for (size_t i = 0; i < sizeof cases / sizeof *cases; i++) {
    double near_hz = cases[i].near_hz;
    list_modes(hz, RADIUS_M, cases[i].length_m);
    for (int whole = 0; whole < (i == 0 ? 2 : 1); whole++) {
      int first = first_of_nearest(hz, cases[i].count, near_hz);
      cavum_result *result = solve(cases[i].length_m, cases[i].count, near_hz, whole == 0);
      compare(result, hz + first);
      check_window(result, hz, first, near_hz);
      cavum_result_destroy(&result);
    }
  }
}
END_TEST

// The static mode of a ring is not counted: a coaxial line's modes are those of fewer asked for,
// which are found another way.
START_TEST(of_a_ring) {
  cavum_result *results[4] = {NULL};
  static const struct {
    double near_hz;
    int count, first;
  } wanted[] = {{0.0, 12, 0}, {0.0, 30, 0}, {1e9, 4, 0}, {4.6e9, 5, 4}};
  static const char text[] =
      "contour:\n  kind: path\n  start: {z_mm: 0, r_mm: 30}\n  path:\n"
      "    - {line_to: {z_mm: 130, r_mm: 30}, boundary: metal}\n"
      "    - {line_to: {z_mm: 130, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 80}, boundary: metal}\n"
      "    - {line_to: {z_mm: 0, r_mm: 30}, boundary: metal}\n";
  for (int i = 0; i < 4; i++) {
    cavum_cell cell = solving_read(text);
    cell.num_modes = wanted[i].count;
    cell.near_hz = wanted[i].near_hz;
    results[i] = solving_solve(&cell, NULL);
    cavum_cell_clear(&cell);
  }
  // The lowest is the half wave along the line.
  CAVUM_CHECK_RELATIVE(results[1]->modes[0].figures[CAVUM_FIGURE_FREQUENCY].value,
                       CAVUM_C_M_PER_S / 0.26, 1e-6);
  // Those about 4.6 GHz by the list of the 30: 3459 (1141 MHz away), 3755, 4555, 4612 and 5482 MHz;
  // 5765 MHz is 1165 MHz away.
  for (int i = 0; i < 4; i++) {
    for (int m = 0; m < wanted[i].count; m++) {
      const cavum_figure *a = &results[i]->modes[m].figures[CAVUM_FIGURE_FREQUENCY];
      const cavum_figure *b =
          &results[1]->modes[wanted[i].first + m].figures[CAVUM_FIGURE_FREQUENCY];
      CAVUM_CHECK_NEAR(a->value, b->value, a->uncertainty + b->uncertainty);
    }
  }
  for (int i = 0; i < 4; i++) cavum_result_destroy(&results[i]);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, lowest);
  tcase_add_test(tests, on_many_elements);
  tcase_add_test(tests, on_small_elements_of_a_high_degree);
  tcase_add_test(tests, nearest_to_a_frequency);
  tcase_add_test(tests, of_a_ring);
}

CAVUM_TEST_MAIN("verification.many_modes", add_tests)
