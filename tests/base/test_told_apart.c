// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers of a message that differ by little are printed so that one sees it.
#include "base/told_apart.h"
#include "support.h"

START_TEST(digits_grow_until_they_differ) {
  static const struct {
    double x, y;
    const char *a, *b;
  } pairs[] = {{3e-4, 1e-4, "3.0e-04", "1.0e-04"},
               {1.02e-4, 1e-4, "1.02e-04", "1.00e-04"},
               {1.000004e-4, 1e-4, "1.000004e-04", "1.000000e-04"},
               {1e-4, 1e-4, "1.000000000000000e-04", "1.000000000000000e-04"}};
  for (size_t i = 0; i < sizeof pairs / sizeof pairs[0]; i++) {
    char a[CAVUM_TOLD_APART_SIZE], b[CAVUM_TOLD_APART_SIZE];
    cavum_told_apart_write(a, b, pairs[i].x, pairs[i].y);
    ck_assert_str_eq(a, pairs[i].a);
    ck_assert_str_eq(b, pairs[i].b);
  }
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, digits_grow_until_they_differ); }

CAVUM_TEST_MAIN("told_apart", add)
