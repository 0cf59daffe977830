// SPDX-License-Identifier: GPL-3.0-or-later
// The search for a maximum on functions whose maximum is known.
#include "base/maximum.h"
#include "support.h"

typedef struct counted {
  double (*function)(double);
  int *calls;
} counted;

static double call(double x, const void *context) {
  const counted *c = context;
  ++*c->calls;
  return c->function(x);
}

static double parabola(double x) { return 3.0 - (x - 0.3) * (x - 0.3); }
static double bell(double x) { return exp(-50.0 * (x + 0.7) * (x + 0.7)); }
static double quartic(double x) { return -(x - 0.1) * (x - 0.1) * (x - 0.1) * (x - 0.1); }
static double rising(double x) { return x + 0.1 * x * x; }
static double flat(double x) { return 0.0 * x; }

// Place and value from three points; gives the number of calls.
static int find(double *at, double *most, double (*function)(double), double low, double middle,
                double high) {
  int calls = 0;
  counted context = {function, &calls};
  double x[3] = {low, middle, high}, value[3] = {function(low), function(middle), function(high)};
  cavum_maximum_find(x, value, 1e-8, call, &context);
  *at = x[1];
  *most = value[1];
  ck_assert(*most == function(*at));
  ck_assert_double_ge(*at, low);
  ck_assert_double_le(*at, high);
  return calls;
}

START_TEST(smooth_maxima) {
  double at, most;
  // A flat maximum is located to the root of the rounding of its value.
  int calls = find(&at, &most, parabola, -1.0, 0.0, 1.0);
  CAVUM_CHECK_NEAR(at, 0.3, 3e-8);
  CAVUM_CHECK_NEAR(most, 3.0, 1e-15);
  ck_assert_int_le(calls, 8);  // exact after one parabola
  calls = find(&at, &most, bell, -1.0, -0.9, 0.2);
  CAVUM_CHECK_NEAR(at, -0.7, 3e-8);
  CAVUM_CHECK_NEAR(most, 1.0, 1e-15);
  ck_assert_int_le(calls, 30);
  find(&at, &most, quartic, -1.0, 0.0, 1.0);
  CAVUM_CHECK_NEAR(at, 0.1, 1e-3);  // the fourth root of 1e-12
  CAVUM_CHECK_NEAR(most, 0.0, 1e-12);
}
END_TEST

// The start is best at an end, in the middle, or in two places at once.
START_TEST(maxima_at_the_end) {
  double at, most;
  find(&at, &most, rising, 0.0, 0.5, 1.0);
  CAVUM_CHECK_NEAR(at, 1.0, 1e-7);
  find(&at, &most, rising, 0.0, 0.0, 1.0);
  CAVUM_CHECK_NEAR(at, 1.0, 1e-7);
  find(&at, &most, parabola, 0.2, 0.2, 0.4);
  CAVUM_CHECK_NEAR(at, 0.3, 3e-8);
}
END_TEST

START_TEST(what_has_no_maximum_ends) {
  double at, most;
  int calls = find(&at, &most, flat, -1.0, 0.0, 1.0);
  CAVUM_CHECK_NEAR(most, 0.0, 0.0);
  ck_assert_int_le(calls, 80);
  calls = find(&at, &most, parabola, 0.5, 0.5, 0.5);
  ck_assert_int_eq(calls, 0);
  CAVUM_CHECK_NEAR(at, 0.5, 0.0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, smooth_maxima);
  tcase_add_test(tests, maxima_at_the_end);
  tcase_add_test(tests, what_has_no_maximum_ends);
}

CAVUM_TEST_MAIN("maximum", add_tests)
