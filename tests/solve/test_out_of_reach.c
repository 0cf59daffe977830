// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a figure is out of reach of all degrees of a mesh, from made-up sequences.
#include "figures/sharp_corner.h"
#include "solve/accuracy.h"
#include "support.h"

enum { FIRST_DEGREE = 4 };

// A frequency of 1 with the last `uncertainty` beside a corner of an exponent.
static cavum_mode_values values_with(double exponent, double uncertainty) {
  cavum_mode_values values = {.corner_exponent = exponent, .voltage_exponent = exponent};
  values.figures[CAVUM_FIGURE_FREQUENCY] =
      (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 1.0, .uncertainty = uncertainty};
  return values;
}

// 1 + rest(p) up to a degree, whose uncertainty is twice what is left.
static bool is_out_of_reach(double (*rest)(double degree), int degree, double exponent,
                            double wanted) {
  cavum_cell cell;
  cavum_history history = {0};
  cavum_cell_set_defaults(&cell);
  cell.accuracy_frequency = wanted;
  for (int p = FIRST_DEGREE; p <= degree; p++) cavum_history_add(&history, 1.0 + rest(p), 0.0, 0.0);
  const cavum_mode_values values = values_with(exponent, 2.0 * rest(degree));
  bool out =
      cavum_accuracy_is_out_of_reach(&values, CAVUM_FIGURE_FREQUENCY, &cell, &history, degree);
  printf("degree %d: %.1e left, %.1e at degree 16, %.1e wanted: %s\n", degree, rest(degree),
         rest(16), wanted, out ? "out of reach" : "not told");
  cavum_cell_clear(&cell);
  return out;
}

static double algebraic(double p) { return 1e-2 * pow(p, -8.0 / 3.0); }

// Odd degrees add a tenth of what even ones do, as where elements are alike on both sides.
static double by_twos(double p) {
  return 0.55 * algebraic(p) + 0.45 * algebraic(2.0 * floor(0.5 * p));
}

static double layers(double p) { return 1e-2 * pow(0.3, p - 3.0) + 1e-5 * algebraic(p); }

static double waves(double p) { return pow(0.5, 0.25 * p * p - 2.0); }

START_TEST(algebraic_sequences_are_told) {
  double (*const sequences[])(double) = {algebraic, by_twos};
  for (int i = 0; i < 2; i++) {
    double at_top = 2.0 * sequences[i](16);
    for (int degree = 10; degree < 16; degree++) {
      ck_assert(is_out_of_reach(sequences[i], degree, 2.0 / 3.0, 0.1 * at_top));
      ck_assert(!is_out_of_reach(sequences[i], degree, 2.0 / 3.0, 1.2 * at_top));
    }
  }
}
END_TEST

// Layers of elements towards the corner, waves that are resolved late: the fall is another one.
START_TEST(others_are_not) {
  double (*const sequences[])(double) = {layers, waves};
  for (int i = 0; i < 2; i++) {
    for (int degree = 8; degree < 13; degree++) {
      ck_assert(!is_out_of_reach(sequences[i], degree, 2.0 / 3.0, 1e-12));
    }
  }
}
END_TEST

// Without a corner, with few values, or where what is asked for is there.
START_TEST(nothing_is_told) {
  ck_assert(is_out_of_reach(algebraic, 12, 2.0 / 3.0, 1e-8));
  ck_assert(!is_out_of_reach(algebraic, 12, CAVUM_SMOOTH_EXPONENT, 1e-8));
  ck_assert(!is_out_of_reach(algebraic, FIRST_DEGREE + 3, 2.0 / 3.0, 1e-8));
  ck_assert(!is_out_of_reach(algebraic, 12, 2.0 / 3.0, 1.0));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, algebraic_sequences_are_told);
  tcase_add_test(tests, others_are_not);
  tcase_add_test(tests, nothing_is_told);
}

CAVUM_TEST_MAIN("out_of_reach", add_tests)
