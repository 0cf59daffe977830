// SPDX-License-Identifier: GPL-3.0-or-later
// What is said of derivatives where modes are close to each other, from both sides: far below the
// change that is named they hold, at that change they do not.
#include <string.h>

#include "base/base.h"
#include "cavum/cavum.h"
#include "solving.h"
#include "support.h"

// Three pillboxes of 100.01, 100 and 99.993 mm radius, behind each other through irises.
#define TO(z, r, kind) "    - {line_to: {z_mm: " z ", r_mm: " r "}, boundary: " kind "}\n"
#define CHAIN(iris)                                                                           \
  "accelerating_length_mm: 282\ncontour:\n  kind: path\n  start: {z_mm: -141, r_mm: 0}\n"     \
  "  path:\n" TO("141", "0", "axis") TO("141", "99.993", "metal") TO("51", "99.993", "metal") \
      TO("51", iris, "metal") TO("45", iris, "metal") TO("45", "100", "metal")                \
          TO("-45", "100", "metal") TO("-45", iris, "metal") TO("-51", iris, "metal")         \
              TO("-51", "100.01", "metal") TO("-141", "100.01", "metal") TO("-141", "0", "metal")

static cavum_result *solve(const char *text, const char *key, double value, int num_modes) {
  cavum_cell cell = solving_read(text);
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = !key;
  options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  cell.num_modes = num_modes;
  cell.accuracy_frequency = 1e-9;
  if (key) ck_assert_int_eq(cavum_cell_set(&cell, key, value, NULL), CAVUM_OK);
  cavum_result *result = solving_solve(&cell, &options);
  cavum_cell_clear(&cell);
  return result;
}

// The numbers of a warning.
typedef struct said {
  int mode, other;
  double distance_mhz, change_mm;
  char side[8], key[96];
} said;

static bool read_warning(said *of, const char *warning) {
  *of = (said){0};
  // Widths are those of the arrays above. NOLINTNEXTLINE(cert-err34-c)
  return sscanf(warning,
                "mode %d: mode %d lies %lf MHz %7[a-z]: derivatives hold for changes of %95s far "
                "below %lf mm, which moves one of the two as far",
                &of->mode, &of->other, &of->distance_mhz, of->side, of->key, &of->change_mm) == 6;
}

static double frequency(const cavum_result *result, int mode) {
  return solving_value(&result->modes[mode], CAVUM_FIGURE_FREQUENCY);
}

// The change of f over that by its derivative.
static double part_of_linear(const cavum_result *result, const said *of, double change_mm) {
  int dimension = 0, mode = of->mode - 1;
  while (strcmp(result->dimensions[dimension].key, of->key) != 0) {
    ck_assert_int_lt(++dimension, result->num_dimensions);
  }
  double at_mm = 1e3 * result->dimensions[dimension].value_si;
  cavum_derivative d = cavum_result_derivative(result, mode, dimension, CAVUM_FIGURE_FREQUENCY);
  cavum_result *moved = solve(CHAIN("14"), of->key, at_mm + change_mm, 3);
  double change_hz = frequency(moved, mode) - frequency(result, mode);
  cavum_result_destroy(&moved);
  printf("mode %d, %s by %.3g mm: %.4g of the linear change\n", of->mode, of->key, change_mm,
         change_hz / (1e-3 * change_mm * d.value));
  return change_hz / (1e-3 * change_mm * d.value);
}

START_TEST(close_modes_say_how_far_derivatives_hold) {
  cavum_result *result = solve(CHAIN("14"), NULL, 0.0, 3);
  ck_assert_int_eq(result->num_warnings, 3);
  for (int i = 0; i < 3; i++) {
    said of;
    printf("%s\n", result->warnings[i]);
    ck_assert(read_warning(&of, result->warnings[i]));
    ck_assert_int_eq(of.mode, i + 1);
    double distance_hz = frequency(result, of.other - 1) - frequency(result, of.mode - 1);
    CAVUM_CHECK_RELATIVE(of.distance_mhz, 1e-6 * fabs(distance_hz), 5e-3);  // three digits
    ck_assert_str_eq(of.side, distance_hz > 0.0 ? "above" : "below");
    // Of two modes what the second order adds is at most the change over the one that is named, as
    // part of the linear change; twice that for the third mode and higher orders.
    CAVUM_CHECK_NEAR(part_of_linear(result, &of, of.change_mm / 20), 1.0, 2.0 / 20);
    CAVUM_CHECK_NEAR(part_of_linear(result, &of, -of.change_mm / 20), 1.0, 2.0 / 20);
    double off = cavum_max(fabs(part_of_linear(result, &of, of.change_mm) - 1.0),
                           fabs(part_of_linear(result, &of, -of.change_mm) - 1.0));
    ck_assert_msg(off > 0.2, "%.3g", off);
  }
  cavum_result_destroy(&result);
}
END_TEST

START_TEST(neighbours_that_nobody_asked_for_are_named_too) {
  cavum_result *result = solve(CHAIN("14"), NULL, 0.0, 1);
  ck_assert_int_eq(result->num_warnings, 1);
  printf("%s\n", result->warnings[0]);
  ck_assert_ptr_nonnull(strstr(result->warnings[0], "mode 1: another mode lies 0.29"));
  cavum_result_destroy(&result);
}
END_TEST

// Wide irises: 21 MHz apart and 4 MHz per mm, so 5 mm, of 100 mm no small change.
START_TEST(modes_apart_say_nothing) {
  cavum_result *result = solve(CHAIN("45"), NULL, 0.0, 3);
  ck_assert(frequency(result, 1) - frequency(result, 0) > 15e6);
  ck_assert_int_eq(result->num_warnings, 0);
  cavum_result_destroy(&result);
}
END_TEST

// Two pillboxes alike: the modes of the half differ in symmetry, and what moves one of its sides
// mixes them. What is said is that of the whole, but for a neighbour that nobody asked for.
#define PAIR(iris)                                                                       \
  "accelerating_length_mm: 182\ncontour:\n  kind: path\n  start: {z_mm: -91, r_mm: 0}\n" \
  "  path:\n" TO("91", "0", "axis") TO("91", "100", "metal") TO("3", "100", "metal")     \
      TO("3", iris, "metal") TO("-3", iris, "metal") TO("-3", "100", "metal")            \
          TO("-91", "100", "metal") TO("-91", "0", "metal")

START_TEST(modes_of_two_symmetries_are_neighbours_too) {
  said of[2][2];
  for (int whole = 0; whole < 2; whole++) {
    cavum_cell cell = solving_read(PAIR("12"));
    cavum_solve_options options = cavum_solve_options_default();
    options.derivatives = true;
    options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
    options.use_symmetry = whole == 0;
    cell.num_modes = 2;
    cavum_result *result = solving_solve(&cell, &options);
    ck_assert(result->half_model == (whole == 0));
    ck_assert_int_eq(result->num_warnings, 2);
    for (int i = 0; i < 2; i++) {
      printf("%s\n", result->warnings[i]);
      ck_assert(read_warning(&of[whole][i], result->warnings[i]));
    }
    cavum_result_destroy(&result);
    cavum_cell_clear(&cell);
  }
  for (int i = 0; i < 2; i++) {
    ck_assert_int_eq(of[0][i].mode, of[1][i].mode);
    ck_assert_int_eq(of[0][i].other, of[1][i].other);
    CAVUM_CHECK_RELATIVE(of[0][i].distance_mhz, of[1][i].distance_mhz, 1e-2);  // three digits
    CAVUM_CHECK_RELATIVE(of[0][i].change_mm, of[1][i].change_mm, 2e-2);        // likewise
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, close_modes_say_how_far_derivatives_hold);
  tcase_add_test(tests, neighbours_that_nobody_asked_for_are_named_too);
  tcase_add_test(tests, modes_apart_say_nothing);
  tcase_add_test(tests, modes_of_two_symmetries_are_neighbours_too);
}

CAVUM_TEST_MAIN("linear_range", add)
