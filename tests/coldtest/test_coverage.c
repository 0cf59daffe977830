// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage of every printed result over 20 ways of measuring, 1,000 draws each; bench_coverage
// makes 10,000. What may be outside is stated in coverage_judge().
#include "coverage.h"

enum { NUM_DRAWS = 400 };

START_TEST(intervals_hold_the_truth_as_often_as_stated) {
  ck_assert_int_eq(coverage_run(_i, NUM_DRAWS, false), 0);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, intervals_hold_the_truth_as_often_as_stated, 0, NUM_COVERAGE_CASES);
}

CAVUM_TEST_MAIN("coldtest coverage", add_tests)
