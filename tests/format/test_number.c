// SPDX-License-Identifier: GPL-3.0-or-later
// Shortest numbers, and SHA-256.
#include <check.h>
#include <float.h>
#include <stdint.h>
#include <string.h>

#include "format/number.h"
#include "support.h"

START_TEST(numbers_are_short_and_read_back) {
  const struct {
    double value;
    const char *text;
  } cases[] = {
      {0.1, "0.1"}, {1.0, "1"},        {1288125674.4, "1288125674.4"},   {-2.5e-9, "-2.5e-09"},
      {0.0, "0"},   {1e300, "1e+300"}, {1.0 / 3.0, "0.3333333333333333"}};
  char text[CAVUM_STORE_NUMBER_SIZE];
  for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
    cavum_store_format_number(text, cases[i].value);
    ck_assert_str_eq(text, cases[i].text);
  }
}
END_TEST

// Every bit pattern that is a finite number must come back: 20 000 of them from a fixed generator.
START_TEST(numbers_read_back_exactly) {
  uint64_t state = 88172645463325252u;
  char text[CAVUM_STORE_NUMBER_SIZE];
  for (int i = 0; i < 20000; i++) {
    double value;
    state ^= state << 13;
    state ^= state >> 7;
    state ^= state << 17;
    memcpy(&value, &state, sizeof value);
    if (!isfinite(value)) continue;
    cavum_store_format_number(text, value);
    ck_assert_msg(strtod(text, NULL) == value, "%s is not %.17g", text, value);
  }
}
END_TEST

static uint64_t next_random(uint64_t *state) {
  *state ^= *state << 13;
  *state ^= *state >> 7;
  *state ^= *state << 17;
  return *state;
}

static void check_alike(double value) {
  char text[CAVUM_STORE_NUMBER_SIZE], tried[CAVUM_STORE_NUMBER_SIZE];
  cavum_store_format_number(text, value);
  cavum_store_format_number_by_trial(tried, value);
  ck_assert_msg(strcmp(text, tried) == 0, "%s instead of %s", text, tried);
}

// The arithmetic gives the characters that printing and reading back gives: numbers of all sizes
// that are met, with any bits, with few digits, from singles, beside powers of two and of ten.
START_TEST(arithmetic_and_trial_agree) {
  uint64_t state = 88172645463325252u;
  for (int i = 0; i < 20000; i++) {
    double part = (double)(next_random(&state) >> 11) * 0x1p-53;
    int power = (int)(next_random(&state) % 60) - 30;
    check_alike(-part * pow(10.0, power));
    check_alike((double)(float)(part * pow(10.0, power)));
    check_alike((double)(next_random(&state) % 1000000) * pow(10.0, power % 10));
    check_alike((double)(next_random(&state) % 100000) / 1000.0);
  }
  for (int power = -60; power < 60; power++) {
    for (int i = -2; i <= 2; i++) {
      check_alike(ldexp(1.0 + i * DBL_EPSILON, power));
      check_alike(pow(10.0, power) * (1.0 + i * DBL_EPSILON));
    }
  }
}
END_TEST

START_TEST(numbers_that_json_lacks_are_null) {
  char text[CAVUM_STORE_NUMBER_SIZE];
  cavum_store_format_number(text, NAN);
  ck_assert_str_eq(text, "null");
  cavum_store_format_number(text, -INFINITY);
  ck_assert_str_eq(text, "null");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, numbers_are_short_and_read_back);
  tcase_add_test(tests, numbers_read_back_exactly);
  tcase_add_test(tests, arithmetic_and_trial_agree);
  tcase_add_test(tests, numbers_that_json_lacks_are_null);
}

CAVUM_TEST_MAIN("number", add_tests)
