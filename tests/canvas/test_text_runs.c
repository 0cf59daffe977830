// SPDX-License-Identifier: GPL-3.0-or-later
// Texts without their mark-up, for who has a page read out.
#include "canvas/text_runs.h"
#include "support.h"

static const struct {
  const char *marked, *plain;
} CASES[] = {
    {"", ""},
    {"G 270 \xce\xa9", "G 270 \xce\xa9"},
    {"5.4\xc3\x97"
     "10^{\xe2\x88\x92"
     "35} \xce\xa9",
     "5.4\xc3\x97"
     "10\xe2\x81\xbb\xc2\xb3\xe2\x81\xb5 \xce\xa9"},
    {"10^{9}", "10\xe2\x81\xb9"},
    {"E_{z} / E_{acc}", "E_z / E_acc"},
    {"a^{", "a"},
};

START_TEST(marks_become_letters) {
  for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
    char plain[64];
    cavum_text_flatten(plain, sizeof plain, CASES[i].marked);
    printf("%s: %s\n", CASES[i].marked, plain);
    ck_assert_str_eq(plain, CASES[i].plain);
  }
}
END_TEST

static void add(TCase *tests) { tcase_add_test(tests, marks_become_letters); }

CAVUM_TEST_MAIN("text_runs", add)
