// SPDX-License-Identifier: GPL-3.0-or-later
// By how much requirements are met or missed, in words.
#include "format/mend.h"
#include "support.h"

static void check(cavum_verdict verdict, const char *expected) {
  char text[CAVUM_MEND_SIZE] = "x";
  cavum_margin_write(text, &verdict);
  ck_assert_str_eq(text, expected);
  // The amount is the same without the word.
  cavum_margin_write_amount(text, &verdict);
  ck_assert_str_eq(text, strncmp(expected, "by ", 3) == 0 ? expected + 3 : expected);
}

// What a search made for a bound is at it, but for rounding: 2.3e-9 of 5 is no margin.
START_TEST(margins_are_numbers_but_at_the_bound) {
  check((cavum_verdict){.kind = CAVUM_VERDICT_MET, .value = 5.0, .margin = 0.417}, "by 0.417");
  check((cavum_verdict){.kind = CAVUM_VERDICT_MISSED, .value = 5.0, .margin = -0.942}, "by 0.942");
  check((cavum_verdict){.kind = CAVUM_VERDICT_MET, .value = 5.0, .margin = 2.3e-9}, "at the bound");
  check((cavum_verdict){.kind = CAVUM_VERDICT_MET, .value = 5.0, .margin = 0.0}, "at the bound");
  check((cavum_verdict){.kind = CAVUM_VERDICT_UNDECIDED, .value = 2.4, .margin = -1.3e-5},
        "by 1.3e-05");
  check((cavum_verdict){.kind = CAVUM_VERDICT_ABSENT, .value = 5.0, .margin = 1.0}, "");
  check((cavum_verdict){.kind = CAVUM_VERDICT_MISSED, .value = HUGE_VAL, .margin = -HUGE_VAL}, "");
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, margins_are_numbers_but_at_the_bound); }

CAVUM_TEST_MAIN("words of requirements", add)
