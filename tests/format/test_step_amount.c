// SPDX-License-Identifier: GPL-3.0-or-later
// Amounts of steps as one text.
#include <string.h>

#include "format/step_amount.h"
#include "support.h"

static cavum_step step_of(cavum_step_kind kind, double next_m, double uncertainty_m) {
  cavum_step step = {.kind = kind,
                     .next_amount = next_m,
                     .next_amount_uncertainty = uncertainty_m,
                     .found_amount = next_m,
                     .found_amount_uncertainty = uncertainty_m,
                     .amount = 10e-6,
                     .what = "10 um off the metal at the equator, 25 um at the iris, linear in r"};
  return step;
}

static void check_next_with(cavum_step step, const char *obstacle, const char *expected) {
  char text[CAVUM_STEP_AMOUNT_SIZE];
  snprintf(step.next_obstacle, sizeof step.next_obstacle, "%s", obstacle);
  cavum_step_write_next(text, &step);
  printf("%s\n", text);
  ck_assert_str_eq(text, expected);
}

static void check_next(cavum_step step, const char *expected) {
  check_next_with(step, "", expected);
}

START_TEST(digits_are_those_of_the_uncertainty) {
  char text[CAVUM_STEP_AMOUNT_SIZE];
  cavum_step step = step_of(CAVUM_STEP_TRIM, 0.69611e-3, 0.02e-3);
  cavum_step_write_found(text, &step);
  ck_assert_str_eq(text, "0.696 +- 0.020 mm");
  check_next(step_of(CAVUM_STEP_REMOVE, 334.98e-6, 20.4e-6), "335 +- 20 um at the equator");
  check_next(step_of(CAVUM_STEP_REMOVE, 334.98e-6, 171e-6), "330 +- 170 um at the equator");
  check_next(step_of(CAVUM_STEP_STRETCH, -3.16412e-3, 0.0), "-3.1641 mm");
}
END_TEST

// With what a chain says against it.
START_TEST(what_cannot_be_done_says_so) {
  check_next_with(step_of(CAVUM_STEP_REMOVE, -109e-6, 5e-6), "the wrong way",
                  "not by this step: it would take -109 um at the equator, which is the wrong way");
  check_next_with(step_of(CAVUM_STEP_TRIM, -0.30931e-3, 1e-5), "the wrong way",
                  "not by this step: it would take -0.309 mm, which is the wrong way");
  check_next_with(
      step_of(CAVUM_STEP_REMOVE, 17888e-6, 2e-4), "more than a wall allows",
      "not by this step: it would take 17888 um at the equator, which is more than a wall allows");
  check_next_with(step_of(CAVUM_STEP_TRIM, 60e-3, 1e-4), "impossible: more is taken",
                  "not by this step: it would take 60.000 mm, which is impossible: more is taken");
  check_next(step_of(CAVUM_STEP_PRESSURE, -28e-6, 1e-6), "-28.0 +- 1.0 um at the equator");
  check_next(step_of(CAVUM_STEP_STRETCH, -3e-3, 1e-4), "-3.00 +- 0.10 mm");
}
END_TEST

START_TEST(what_cannot_have_been_and_what_is_far_is_said) {
  char text[CAVUM_STEP_AMOUNT_SIZE];
  cavum_step step = step_of(CAVUM_STEP_TRIM, -0.7846e-3, 0.0028e-3);
  snprintf(step.found_obstacle, sizeof step.found_obstacle, "the wrong way");
  cavum_step_write_found(text, &step);
  ck_assert_str_eq(text, "impossible: it would be -0.7846 +- 0.0028 mm, which is the wrong way");
  step = step_of(CAVUM_STEP_STRETCH, -17.36e-3, 0.1e-3);
  snprintf(step.next_caution, sizeof step.next_caution, "12 %% of the length");
  check_next(step, "-17.36 +- 0.10 mm, 12 % of the length");
}
END_TEST

START_TEST(stated_depths_say_where_they_are) {
  char text[CAVUM_STEP_AMOUNT_SIZE];
  cavum_step step = step_of(CAVUM_STEP_REMOVE, 0.0, 0.0);
  cavum_step_write_stated(text, &step);
  ck_assert_ptr_nonnull(strstr(text, "10 um off the metal at the equator"));
  step.kind = CAVUM_STEP_STRETCH;
  cavum_step_write_stated(text, &step);
  ck_assert_str_eq(text, "0.01 mm");
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, digits_are_those_of_the_uncertainty);
  tcase_add_test(tests, what_cannot_be_done_says_so);
  tcase_add_test(tests, what_cannot_have_been_and_what_is_far_is_said);
  tcase_add_test(tests, stated_depths_say_where_they_are);
}

CAVUM_TEST_MAIN("format.step_amount", add)
