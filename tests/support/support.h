// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file support.h
 * What tests share: a main function for one suite, and comparisons that print what they compared.
 */
#ifndef CAVUM_TEST_SUPPORT_H
#define CAVUM_TEST_SUPPORT_H

#include <check.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

/** Fails when abs(observed - expected) > tolerance, and prints all three in any case. */
#define CAVUM_CHECK_NEAR(observed, expected, tolerance)                                            \
  do {                                                                                             \
    double observed_ = (observed), expected_ = (expected), tolerance_ = (tolerance);               \
    printf("%s:%d %s: observed %.15g expected %.15g difference %.2e tolerance %.2e\n", __FILE__,   \
           __LINE__, #observed, observed_, expected_, observed_ - expected_, tolerance_);          \
    ck_assert_msg(fabs(observed_ - expected_) <= tolerance_, "%s = %.15g, expected %.15g +- %.2e", \
                  #observed, observed_, expected_, tolerance_);                                    \
  } while (0)

/** The same with a tolerance relative to the expected value. */
#define CAVUM_CHECK_RELATIVE(observed, expected, tolerance) \
  CAVUM_CHECK_NEAR(observed, expected, (tolerance)*fabs(expected))

/** The function that runs the tests of a file: main where the file has a program of its own. */
#ifndef CAVUM_TESTS_OF_FILE
#define CAVUM_TESTS_OF_FILE main
#endif

/** Runs one suite of one test case filled by add(TCase *); ctest limits its time. */
#define CAVUM_TEST_MAIN(name, add)                                                     \
  int CAVUM_TESTS_OF_FILE(void) {                                                      \
    setvbuf(stdout, NULL, _IOLBF, 0); /* a failing test loses what is in the buffer */ \
    Suite *suite = suite_create(name);                                                 \
    TCase *tests = tcase_create(name);                                                 \
    tcase_set_timeout(tests, 0);                                                       \
    add(tests);                                                                        \
    suite_add_tcase(suite, tests);                                                     \
    SRunner *runner = srunner_create(suite);                                           \
    srunner_run_all(runner, CK_NORMAL);                                                \
    int failed = srunner_ntests_failed(runner);                                        \
    int run = srunner_ntests_run(runner);                                              \
    srunner_free(runner);                                                              \
    return failed == 0 && run > 0 ? EXIT_SUCCESS : EXIT_FAILURE;                       \
  }

#endif
