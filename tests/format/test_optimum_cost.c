// SPDX-License-Identifier: GPL-3.0-or-later
// What table and report say of a search in words.
#include <math.h>
#include <string.h>

#include "format/optimum_cost.h"
#include "support.h"

// Peaks that are taken as a whole have their names, and what that is: the mean or the worst case.
START_TEST(peaks_taken_as_a_whole_are_named) {
  static const char *const names[4] = {
      NULL, "E_pk / E_acc: ", "B_pk / E_acc: ", "E_pk / E_acc and B_pk / E_acc: "};
  for (int whole = 0; whole < 4; whole++) {
    for (int mean = 0; mean < 2; mean++) {
      char text[CAVUM_OPTIMUM_REMARK_SIZE] = "x";
      cavum_optimum optimum = {0};
      optimum.robust.kind = mean ? CAVUM_ROBUST_MEAN : CAVUM_ROBUST_WORST;
      optimum.robust.whole_peaks = whole;
      cavum_optimum_remark_on_tolerances(text, &optimum);
      printf("%s\n", text);
      if (whole == 0) ck_assert_str_eq(text, "");
      if (whole == 0) continue;
      ck_assert_int_eq(strncmp(text, names[whole], strlen(names[whole])), 0);
      ck_assert_ptr_nonnull(strstr(text, mean ? "the mean is" : "the worst case is"));
      ck_assert_int_eq(text[strlen(text) - 1], 'e');  // not cut off
    }
  }
}
END_TEST

// Percent say of what; what a step would bring by more than a derivative tells is no number.
START_TEST(costs_say_of_what) {
  char text[CAVUM_OPTIMUM_COST_SIZE];
  const cavum_optimum_shown product = {NULL, {0}};
  cavum_optimum_limit limit = {.active = -1, .multiplier = 0.02};
  strcpy(limit.what.key, "aperture_radius_mm");
  limit.what.kind = CAVUM_REQUIRE_APERTURE_RADIUS;
  limit.what.least = 35.0;
  limit.what.most = HUGE_VAL;
  cavum_optimum_cost_of_limit(text, &product, &limit);
  ck_assert_str_eq(text, "relaxed by 0.1 mm: gains 0.2 % of the objective");
  limit.multiplier = 100.0;
  cavum_optimum_cost_of_limit(text, &product, &limit);
  ck_assert_str_eq(text, "relaxed by 0.1 mm: too far for a derivative");
}
END_TEST

// A limit of the frequency is broken by far less than one of a peak: what a search named as broken
// is so, by however little. Files of earlier versions name none, but have the amount.
START_TEST(a_named_limit_is_broken_by_however_little) {
  char text[CAVUM_OPTIMUM_BROKEN_SIZE];
  cavum_optimum optimum = {.robust = {.kind = CAVUM_ROBUST_WORST, .nominal_violation = 1e-5}};
  cavum_optimum_nominal_at_limits(text, &optimum);
  ck_assert_str_eq(text, "it keeps the limits");
  strcpy(optimum.nominal_broken, "frequency_MHz = 1300.013 MHz breaks the limit");
  cavum_optimum_nominal_at_limits(text, &optimum);
  ck_assert_str_eq(text, optimum.nominal_broken);
  optimum.nominal_broken[0] = '\0';
  optimum.robust.nominal_violation = 0.0123;
  cavum_optimum_nominal_at_limits(text, &optimum);
  ck_assert_str_eq(text, "it breaks a limit by 0.012, relative");
}
END_TEST

// Starts of one value differ by less than it is known to. The best is the one whose shape the
// result has, also where the last, tighter solves of that one raised its objective.
START_TEST(the_best_start_is_that_of_the_result) {
  cavum_optimum_start starts[4] = {{.objective = -1.0000, .is_best = true},
                                   {.objective = -1.0001, .is_best = true},
                                   {.objective = -1.0002, .is_best = true},
                                   {.objective = -1.00009}};
  cavum_optimum optimum = {.num_starts = 4, .starts = starts, .objective_exact = -1.0001};
  ck_assert_int_eq(cavum_optimum_best_start(&optimum), 1);
  // With tolerances the objective of the result is another one; starts are nominal.
  optimum.robust.kind = CAVUM_ROBUST_WORST;
  optimum.robust.nominal = -1.0002;
  ck_assert_int_eq(cavum_optimum_best_start(&optimum), 2);
  for (int i = 0; i < 3; i++) starts[i].is_best = false;
  ck_assert_int_eq(cavum_optimum_best_start(&optimum), -1);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, the_best_start_is_that_of_the_result);
  tcase_add_test(tests, a_named_limit_is_broken_by_however_little);
  tcase_add_test(tests, peaks_taken_as_a_whole_are_named);
  tcase_add_test(tests, costs_say_of_what);
}

CAVUM_TEST_MAIN("words of a search", add)
