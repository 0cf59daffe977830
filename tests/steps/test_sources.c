// SPDX-License-Identifier: GPL-3.0-or-later
// Sources of uncertainty by name.
#include "steps/sources.h"
#include "support.h"

// A source that changes one mode of the halves alone is one: that of a pillbox does not see length.
START_TEST(what_changes_one_of_both_modes_is_a_source) {
  static cavum_sources sources;
  const double none[2] = {0.0, 0.0}, one[2] = {0.0, 2e-5};
  cavum_sources_add_shape(&sources, "nothing", 0.0, none);
  cavum_sources_add_shape(&sources, "nothing", 0.0, NULL);
  ck_assert_int_eq(sources.count, 0);
  cavum_sources_add_shape(&sources, "trim", 0.0, one);
  cavum_sources_add_shape(&sources, "trim", 1e-5, NULL);
  ck_assert_int_eq(sources.count, 1);
  ck_assert_double_eq(sources.shape[0], 1e-5);
  ck_assert_double_eq(sources.pair[0][0], 1e-5);
  CAVUM_CHECK_RELATIVE(sources.pair[1][0], 3e-5, 1e-15);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, what_changes_one_of_both_modes_is_a_source);
}

CAVUM_TEST_MAIN("sources", add_tests)
