// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers in headings and keys of pictures: those of the screen's table, without the parentheses.
#include <string.h>

#include "format/quantity.h"
#include "picture/known_digits.h"
#include "support.h"

static const struct {
  double value, uncertainty;
  cavum_figure_id id;
  cavum_unit unit;
  const char *text;
} CASES[] = {
    {1300.95795016e6, 40e-3, CAVUM_FIGURE_FREQUENCY, CAVUM_UNIT_MHZ, "1300.958"},
    {1300.95795016e6, 30e3, CAVUM_FIGURE_FREQUENCY, CAVUM_UNIT_MHZ, "1300.96"},
    {113.473733, 6e-5, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_UNIT_OHM, "113.47"},
    {113.473733, 0.4, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_UNIT_OHM, "113.5"},
    {1.98299539, 7e-5, CAVUM_FIGURE_EPK_OVER_EACC, CAVUM_UNIT_SI, "1.9830"},
    {6.0525e-9, 0.2e-9, CAVUM_FIGURE_BPK_OVER_EACC, CAVUM_UNIT_MILLITESLA_PER_MV_PER_M, "6.05"},
};

START_TEST(digits_are_those_of_the_table) {
  for (size_t i = 0; i < sizeof CASES / sizeof *CASES; i++) {
    const cavum_figure figure = {.state = CAVUM_FIGURE_PRESENT,
                                 .value = CASES[i].value,
                                 .uncertainty = CASES[i].uncertainty};
    char text[64], table[CAVUM_QUANTITY_SIZE];
    cavum_known_digits_format(text, &figure, CASES[i].id, CASES[i].unit);
    cavum_quantity_format_to(table, cavum_in_unit(figure.value, CASES[i].unit),
                             cavum_in_unit(figure.uncertainty, CASES[i].unit),
                             CASES[i].id == CAVUM_FIGURE_FREQUENCY ? 1e-6 : 1e-4);
    printf("%s, expected %s; the table has %s\n", text, CASES[i].text, table);
    ck_assert_str_eq(text, CASES[i].text);
    ck_assert_int_eq(strncmp(table, text, strlen(text)), 0);
    ck_assert_int_eq(table[strlen(text)], '(');
  }
}
END_TEST

// Powers of ten are raised, and a number that is nothing but its uncertainty has no parentheses.
START_TEST(numbers_that_the_table_writes_otherwise) {
  char text[64];
  cavum_figure figure = {.state = CAVUM_FIGURE_PRESENT, .value = 5.3e-6, .uncertainty = 1e-9};
  cavum_known_digits_format(text, &figure, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_UNIT_OHM);
  ck_assert_str_eq(text,
                   "5.3000\xc3\x97"
                   "10^{\xe2\x88\x92"
                   "6}");
  figure = (cavum_figure){.state = CAVUM_FIGURE_PRESENT, .value = 0.0, .uncertainty = 0.01};
  cavum_known_digits_format(text, &figure, CAVUM_FIGURE_R_OVER_Q_LINAC, CAVUM_UNIT_OHM);
  ck_assert_str_eq(text, "0");
}
END_TEST

static void add(TCase *tests) {
  tcase_add_test(tests, digits_are_those_of_the_table);
  tcase_add_test(tests, numbers_that_the_table_writes_otherwise);
}

CAVUM_TEST_MAIN("known_digits", add)
