// SPDX-License-Identifier: GPL-3.0-or-later
// Marks of axes and numbers at them.
#include <string.h>

#include "canvas/ticks.h"
#include "support.h"

#define MINUS "\xe2\x88\x92"

static void expect_labels(const cavum_ticks *ticks, int count, const char *const *labels) {
  int n = 0;
  for (int i = 0; i < ticks->count; i++) {
    if (!ticks->label[i][0]) continue;
    printf("mark %d at %g: '%s'\n", i, ticks->value[i], ticks->label[i]);
    ck_assert_int_lt(n, count);
    ck_assert_str_eq(ticks->label[i], labels[n++]);
  }
  ck_assert_int_eq(n, count);
}

START_TEST(linear) {
  cavum_ticks ticks;
  const char *const labels[] = {MINUS "2", MINUS "1", "0", "1", "2"};
  cavum_ticks_linear(&ticks, -2.3, 2.3, 5);
  expect_labels(&ticks, 5, labels);
  // Two, not two and a half: 0, 2, 4 are what people count in.
  const char *const even[] = {"0", "2", "4", "6", "8", "10"};
  cavum_ticks_linear(&ticks, 0.0, 10.0, 5);
  expect_labels(&ticks, 6, even);
  const char *const fine[] = {"0.25", "0.30", "0.35"};
  cavum_ticks_linear(&ticks, 0.24, 0.36, 3);
  expect_labels(&ticks, 3, fine);
  const char *const large[] = {"0",
                               "1\xc3\x97"
                               "10^{9}",
                               "2\xc3\x97"
                               "10^{9}"};
  cavum_ticks_linear(&ticks, 0.0, 2e9, 2);
  expect_labels(&ticks, 3, large);
  const char *const small[] = {"0",
                               "1\xc3\x97"
                               "10^{" MINUS "7}",
                               "2\xc3\x97"
                               "10^{" MINUS "7}"};
  cavum_ticks_linear(&ticks, 0.0, 2e-7, 2);
  expect_labels(&ticks, 3, small);
}
END_TEST

START_TEST(logarithmic) {
  cavum_ticks ticks;
  const char *const labels[] = {"10^{9}", "10^{10}", "10^{11}"};
  cavum_ticks_logarithmic(&ticks, 0.9e9, 1.1e11, 5);
  expect_labels(&ticks, 3, labels);
  const char *const few[] = {"2", "3", "4", "5", "7", "10", "20"};
  cavum_ticks_logarithmic(&ticks, 1.9, 22.0, 5);
  expect_labels(&ticks, 7, few);
}
END_TEST

START_TEST(nothing_without_a_range) {
  cavum_ticks ticks;
  cavum_ticks_linear(&ticks, 1.0, 1.0, 5);
  ck_assert_int_eq(ticks.count, 0);
  cavum_ticks_linear(&ticks, 0.0, HUGE_VAL, 5);
  ck_assert_int_eq(ticks.count, 0);
  cavum_ticks_logarithmic(&ticks, 0.0, 10.0, 5);
  ck_assert_int_eq(ticks.count, 0);
  double low = 3.0, high = 3.0;
  cavum_ticks_widen(&low, &high, 0.1);
  ck_assert(high > low);
}
END_TEST

START_TEST(numbers) {
  char text[24];
  cavum_ticks_format(text, 117.5696, 5);
  ck_assert_str_eq(text, "117.57");
  cavum_ticks_format(text, -0.0123456, 3);
  ck_assert_str_eq(text, MINUS "0.0123");
  cavum_ticks_format(text, 1.5e10, 2);
  ck_assert_str_eq(text,
                   "1.5\xc3\x97"
                   "10^{10}");
  cavum_ticks_format(text, NAN, 3);
  ck_assert_str_eq(text, MINUS);
}
END_TEST

// Short axes of all spans and places have two marks at least, inside.
START_TEST(two_marks_on_every_axis) {
  for (int k = 0; k < 2000; k++) {
    double low = 37.3 * sin(k), high = low + pow(10.0, -3.0 + 0.003 * k);
    cavum_ticks ticks;
    cavum_ticks_linear(&ticks, low, high, 2);
    ck_assert_int_ge(ticks.count, 2);
    ck_assert_int_le(ticks.count, 12);
    ck_assert_double_ge(ticks.value[0], low - 1e-6 * (high - low));
    ck_assert_double_le(ticks.value[ticks.count - 1], high + 1e-6 * (high - low));
  }
}
END_TEST

// Axes of part of a decade, as of loaded Q, have numbers, too: no n 10^m need lie within.
START_TEST(three_labels_on_every_logarithmic_axis) {
  for (int k = 0; k < 2000; k++) {
    double low = pow(10.0, -12.0 + 0.011 * k), high = low * (1.02 + 0.01 * (k % 997));
    int labels = 0;
    cavum_ticks ticks;
    cavum_ticks_logarithmic(&ticks, low, high, 2 + k % 5);
    for (int i = 0; i < ticks.count; i++) {
      labels += ticks.label[i][0] != '\0';
      ck_assert_double_ge(ticks.value[i], low * (1.0 - 1e-8));
      ck_assert_double_le(ticks.value[i], high * (1.0 + 1e-8));
    }
    ck_assert_msg(labels >= 3, "%d labels from %g to %g", labels, low, high);
  }
  // Up to many decades, with room for few.
  for (int k = 0; k < 2000; k++) {
    double low = pow(10.0, -6.0 + 0.007 * k), high = low * pow(10.0, 0.003 * (k + 1));
    int labels = 0;
    cavum_ticks ticks;
    cavum_ticks_logarithmic(&ticks, low, high, 2 + k % 5);
    for (int i = 0; i < ticks.count; i++) labels += ticks.label[i][0] != '\0';
    ck_assert_msg(labels >= 3, "%d labels from %g to %g", labels, low, high);
  }
  cavum_ticks ticks;
  const char *const loaded[] = {
      "1.2\xc3\x97"
      "10^{10}",
      "1.4\xc3\x97"
      "10^{10}",
      "1.6\xc3\x97"
      "10^{10}"};
  cavum_ticks_logarithmic(&ticks, 1.08e10, 1.78e10, 4);
  expect_labels(&ticks, 3, loaded);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, two_marks_on_every_axis);
  tcase_add_test(tests, linear);
  tcase_add_test(tests, logarithmic);
  tcase_add_test(tests, three_labels_on_every_logarithmic_axis);
  tcase_add_test(tests, nothing_without_a_range);
  tcase_add_test(tests, numbers);
}

CAVUM_TEST_MAIN("ticks", add)
