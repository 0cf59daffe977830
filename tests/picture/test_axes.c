// SPDX-License-Identifier: GPL-3.0-or-later
// Axes and letters of charts where what is drawn leaves them little room.
#include "picture/chart.h"
#include "picture/scan_view.h"
#include "picture/unit_letters.h"
#include "support.h"

// All shapes of a study were tuned to 1300 MHz: the axis has that in its middle.
START_TEST(a_constant_column_is_in_the_middle) {
  static const double values[] = {1300.0, -2.5, 0.0};
  for (int i = 0; i < 3; i++) {
    // To the rounding of the frequency as well.
    cavum_scan_axis axis = {.low = values[i], .high = values[i] + 1e-9 * fabs(values[i])};
    cavum_scan_axis_open(&axis);
    printf("%g: %g to %g\n", values[i], axis.low, axis.high);
    CAVUM_CHECK_NEAR(0.5 * (axis.low + axis.high), values[i], 1e-9 * fabs(values[i]));
    ck_assert_double_gt(axis.high, axis.low);
    ck_assert_double_le(axis.high - axis.low, fmax(0.2 * fabs(values[i]), 1.0));
  }
  cavum_scan_axis other = {.low = 1299.0, .high = 1300.0};
  cavum_scan_axis_open(&other);
  ck_assert(other.low == 1299.0 && other.high == 1300.0);
}
END_TEST

// A run of the name a: the limits start with b.
START_TEST(letters_of_limits_are_no_names_of_runs) {
  cavum_chart chart = {.name = "test"};
  for (int k = 0; k < 3; k++) cavum_chart_add_rule(&chart, true, k, CAVUM_INK_FIRST, "limit");
  ck_assert_int_eq(cavum_chart_letter(&chart, 0), 'a');
  ck_assert_ptr_nonnull(cavum_chart_add(&chart, 1, "a: by pickup, 2.00 K"));
  ck_assert_ptr_nonnull(cavum_chart_add(&chart, 1, "c: by pickup, 2.00 K"));
  ck_assert_int_eq(cavum_chart_letter(&chart, 0), 'b');
  ck_assert_int_eq(cavum_chart_letter(&chart, 1), 'd');
  ck_assert_int_eq(cavum_chart_letter(&chart, 2), 'e');
  cavum_chart_clear(&chart);
}
END_TEST

// "volume in m3" stood beside "wall area in cm^2" and "in \xce\xa9\xc2\xb2".
START_TEST(powers_of_units_are_raised) {
  static const char *const units[][2] = {{"m3", "m\xc2\xb3"},
                                         {"m2", "m\xc2\xb2"},
                                         {"cm^2", "cm\xc2\xb2"},
                                         {"ohm^2", "\xce\xa9\xc2\xb2"},
                                         {"uohm", "\xc2\xb5\xce\xa9"},
                                         {"nohm", "n\xce\xa9"},
                                         {"mT/(MV/m)", "mT/(MV/m)"},
                                         {"mm", "mm"},
                                         {"MHz", "MHz"},
                                         {"1", ""},
                                         {"", ""}};
  for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
    char letters[CAVUM_UNIT_LETTERS];
    cavum_unit_letters(letters, units[i][0]);
    printf("%s: %s\n", units[i][0], letters);
    ck_assert_str_eq(letters, units[i][1]);
  }
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, powers_of_units_are_raised);
  tcase_add_test(tests, a_constant_column_is_in_the_middle);
  tcase_add_test(tests, letters_of_limits_are_no_names_of_runs);
}

CAVUM_TEST_MAIN("axes", add)
