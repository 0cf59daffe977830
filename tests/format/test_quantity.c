// SPDX-License-Identifier: GPL-3.0-or-later
// Numbers with uncertainty in parentheses. Expected texts follow from the rule in quantity.h,
// worked out by hand.
#include <check.h>
#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "format/quantity.h"
#include "support.h"

static const struct {
  double value, uncertainty;
  const char *text;
} cases[] = {
    {1288.1256744, 3.1e-7, "1288.1256744(4)"},  // 3.1 is rounded up
    {1288.1256744, 3.0e-7, "1288.1256744(3)"},  // 3 stays 3
    {117.57012345, 1.3e-5, "117.570123(14)"},   // two digits; 13 plus the rounding 0.45
    {1.7649, 1e-6, "1.7649000(10)"},            // two digits when the first is 1
    {0.5, 0.25, "0.50(25)"},
    {272.1, 29.0, "272(30)"},                  // 29 plus the rounding 0.1
    {272.1, 31.0, "270(40)"},                  // tens: 31 plus the rounding 2.1
    {1.8123456e10, 1.2e5, "1.812346(13)e10"},  // 12 plus the rounding 0.4 in units of 1e-6
    {-2.5e-6, 4e-8, "-2.50(4)e-6"},
    // The value is lost in the uncertainty: one form, with its sign, and no exponent behind zero.
    {1e-9, 3e-7, "0 +- 4e-7"},
    {0.0, 1.3e-5, "0 +- 1.3e-5"},
    {-1e-10, 9.95e-5, "0 +- 1.0e-4"},  // ten steps, and no minus sign before zero
    {-0.0, 2.0e-4, "0 +- 2.0e-4"},
    {-4e-4, 0.018, "0 +- 0.019"},
    {-4e-3, 0.04, "0 +- 0.05"},
    {0.0, 0.04, "0 +- 0.04"},
    {0.0, 3e-3, "0 +- 0.003"},
    {0.2, 31.0, "0 +- 40"},  // tens
    {0.0, 2.5e7, "0 +- 2.5e7"},
    {15.012, 0.0, "15.012"},
    {42.0, NAN, "42(?)"},
    {NAN, 1.0, "-"},
    {999.9999, 0.004, "1000.000(5)"},  // rounds up to the next power of ten
};

START_TEST(known_texts) {
  char text[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format(text, cases[_i].value, cases[_i].uncertainty);
  printf("%.12g +- %g: %s, expected %s\n", cases[_i].value, cases[_i].uncertainty, text,
         cases[_i].text);
  ck_assert_str_eq(text, cases[_i].text);
}
END_TEST

// Reads digits(count)exponent, or 0 +- uncertainty, back into value and uncertainty.
static void parse_shown(double *value, double *uncertainty, const char *text) {
  char digits[64];
  static const char zero[] = "0 +- ";
  if (strncmp(text, zero, sizeof zero - 1) == 0) {
    *value = 0.0;
    *uncertainty = strtod(text + sizeof zero - 1, NULL);
    return;
  }
  const char *open = strchr(text, '('), *close = strchr(text, ')');
  ck_assert_msg(open && close, "%s", text);
  snprintf(digits, sizeof digits, "%.*s", (int)(open - text), text);
  const char *point = strchr(digits, '.');
  int decimals = point ? (int)strlen(point + 1) : 0;
  int exponent = close[1] == 'e' ? (int)strtol(close + 2, NULL, 10) : 0;
  *value = strtod(digits, NULL) * pow(10.0, exponent);
  *uncertainty = strtod(open + 1, NULL) * pow(10.0, exponent - decimals);
}

// The interval shown contains the interval computed, and is no more than 1.6 times as wide: one
// digit from 3 up, so 3.01 shown as 4 plus half a unit of rounding is the worst.
START_TEST(shown_interval_covers) {
  uint64_t state = 2463534242u;
  char text[CAVUM_QUANTITY_SIZE];
  double widest = 0.0;
  for (int i = 0; i < 50000; i++) {
    double random[3];
    for (int k = 0; k < 3; k++) {
      state = state * 6364136223846793005u + 1442695040888963407u;
      random[k] = (double)(state >> 11) / 9007199254740992.0;
    }
    double value = (random[0] - 0.5) * pow(10.0, 24.0 * random[1] - 12.0);
    double uncertainty = fabs(value) * pow(10.0, -11.0 * random[2]);
    double shown, covered;
    cavum_quantity_format(text, value, uncertainty);
    parse_shown(&shown, &covered, text);
    // 1e-5: the rule forgives 1e-6 of the uncertainty, and the last bits of these sums.
    ck_assert_msg(fabs(shown - value) + uncertainty <= covered * (1.0 + 1e-5), "%s for %.17g +- %g",
                  text, value, uncertainty);
    if (covered / uncertainty > widest) widest = covered / uncertainty;
  }
  printf("shown over computed uncertainty: at most %.3f\n", widest);
  ck_assert(widest <= 1.6);
}
END_TEST

// By hand, from the rule: the step is the power of ten at or below the accuracy, rounding is
// covered.
static const struct {
  double value, uncertainty, accuracy;
  const char *text;
} rounded[] = {
    {1120.04730442, 5e-8, 1e-6, "1120.047(1)"},      // 0.3 of the step is rounding
    {1120.04730442, 5e-8, 1e-9, "1120.047304(1)"},   // asked: 1.1e-6
    {1120.04730442, 5e-8, 0.0, "1120.04730442(5)"},  // all digits
    {1120.0473, 0.004, 1e-6, "1120.047(5)"},         // less certain than asked: its own digits
    {1120.0473, 0.013, 1e-6, "1120.047(14)"},        // the same step either way
    {1120.0473, 0.4, 1e-6, "1120.0(5)"},
    {109.55296, 2.4e-4, 1e-4, "109.55(1)"},
    {0.0531263, 7e-7, 1e-4, "0.053126(1)"},
    {2.262205e-4, 1e-9, 1e-4, "2.262205(10)e-4"},  // an exponent has all digits
    {0.0, 1e-9, 1e-4, "0 +- 1.0e-9"},
    {126.0, 0.0, 1e-4, "126"},
    {999.99996, 1e-7, 1e-6, "1000.0000(1)"},
};

START_TEST(digits_that_were_asked_for) {
  char text[CAVUM_QUANTITY_SIZE];
  cavum_quantity_format_to(text, rounded[_i].value, rounded[_i].uncertainty, rounded[_i].accuracy);
  printf("%.12g +- %g to %g: %s, expected %s\n", rounded[_i].value, rounded[_i].uncertainty,
         rounded[_i].accuracy, text, rounded[_i].text);
  ck_assert_str_eq(text, rounded[_i].text);
}
END_TEST

// No figure that has prefixes is shown with an exponent, or with more than four digits before the
// point, within what cavities have.
START_TEST(prefixes_fit) {
  static const struct {
    cavum_figure_id id;
    double value;
    const char *text;
  } shown[] = {{CAVUM_FIGURE_TUBE_CUT_FREQUENCY, 0.137, "0.137 Hz"},
               {CAVUM_FIGURE_TUBE_CUT_FREQUENCY, -67497.0, "-67.497 kHz"},
               {CAVUM_FIGURE_TUBE_CUT_FREQUENCY, 3e-3, "3 mHz"},
               {CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, -4.3e-3, "-4.3 mohm"},
               {CAVUM_FIGURE_SHUNT_IMPEDANCE, 2.016296e12, "2.016296 Tohm"},
               {CAVUM_FIGURE_SHUNT_IMPEDANCE, 3.2e6, "3.2 Mohm"},
               {CAVUM_FIGURE_WALL_POWER, 6.604764e-3, "6.604764 mW"},
               {CAVUM_FIGURE_WALL_POWER, 4100.0, "4.1 kW"},
               {CAVUM_FIGURE_LOSS_FACTOR, 2.262205e8, "0.2262205 V/nC"},
               {CAVUM_FIGURE_LOSS_FACTOR, 2.4e11, "0.24 V/pC"},
               {CAVUM_FIGURE_VOLTAGE_AT_1_J, 0.975e6, "0.975 MV"},
               {CAVUM_FIGURE_VOLTAGE_AT_1_J, 30e3, "30 kV"},
               {CAVUM_FIGURE_SURFACE_RESISTANCE, 15e-9, "15 nohm"},
               {CAVUM_FIGURE_SURFACE_RESISTANCE, 9.4e-3, "9.4 mohm"},
               {CAVUM_FIGURE_FREQUENCY, 1.3e9, "1300 MHz"}};
  for (size_t i = 0; i < sizeof shown / sizeof *shown; i++) {
    char text[64];
    cavum_quantity_unit unit = cavum_quantity_unit_to_fit(shown[i].id, shown[i].value);
    snprintf(text, sizeof text, "%.10g %s", cavum_in_unit(shown[i].value, unit.conversion),
             unit.name);
    ck_assert_str_eq(text, shown[i].text);
  }
}
END_TEST

START_TEST(units_convert_once) {
  cavum_quantity_unit unit = cavum_quantity_unit_of(CAVUM_FIGURE_FREQUENCY, 1.3e9);
  ck_assert_str_eq(unit.name, "MHz");
  CAVUM_CHECK_RELATIVE(cavum_in_unit(1.3e9, unit.conversion), 1300.0, 1e-15);  // one rounding
  unit = cavum_quantity_unit_of(CAVUM_FIGURE_LOSS_FACTOR, 2.4e11);
  ck_assert_str_eq(unit.name, "V/pC");
  CAVUM_CHECK_RELATIVE(cavum_in_unit(2.4e11, unit.conversion), 0.24, 1e-15);
  unit = cavum_quantity_unit_of(CAVUM_FIGURE_SURFACE_RESISTANCE, 15e-9);
  ck_assert_str_eq(unit.name, "nohm");
  CAVUM_CHECK_RELATIVE(cavum_in_unit(15e-9, unit.conversion), 15.0, 1e-15);
  unit = cavum_quantity_unit_of(CAVUM_FIGURE_SURFACE_RESISTANCE, 9.4e-3);
  ck_assert_str_eq(unit.name, "mohm");
  unit = cavum_quantity_unit_of(CAVUM_FIGURE_BPK_OVER_EACC, 4.3e-9);
  ck_assert_str_eq(unit.name, "mT/(MV/m)");
  CAVUM_CHECK_RELATIVE(cavum_in_unit(4.3e-9, unit.conversion), 4.3, 1e-15);
}
END_TEST

// A figure is in SI: what is shown in another unit is converted from it, by the unit's own factor.
START_TEST(figures_are_shown_from_si) {
  static const char *const si[] = {"1", "Hz", "ohm", "ohm2", "V/C", "V", "V/m", "W", "T/(V/m)"};
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const char *own = cavum_figure_describe((cavum_figure_id)id).unit;
    cavum_quantity_unit shown = cavum_quantity_unit_of((cavum_figure_id)id, 1.5);
    bool is_si = false;
    for (size_t i = 0; i < sizeof si / sizeof *si; i++) is_si = is_si || strcmp(own, si[i]) == 0;
    ck_assert_msg(is_si, "%s is no SI unit", own);
    ck_assert_str_eq(shown.name, cavum_unit_symbol(shown.conversion));
  }
}
END_TEST

// Words are what files hold: they lead back to the basis.
START_TEST(words_of_bases) {
  for (int i = CAVUM_BASIS_COMPUTED; i <= CAVUM_BASIS_END_OF_RANGE; i++) {
    const char *word = cavum_basis_word((cavum_figure_basis)i);
    ck_assert_int_eq(cavum_basis_of_word(word), i);
    ck_assert_int_eq(*word == '\0', i == CAVUM_BASIS_COMPUTED);
  }
  ck_assert_str_eq(cavum_basis_word((cavum_figure_basis)99), "");
  ck_assert_int_eq(cavum_basis_of_word("of a later version"), CAVUM_BASIS_COMPUTED);
  ck_assert_int_eq(cavum_basis_of_word(NULL), CAVUM_BASIS_COMPUTED);
}
END_TEST

START_TEST(bounds_to_one_side_or_both) {
  char text[CAVUM_BOUNDS_SIZE];
  cavum_quantity_bounds(text, -INFINITY, 2.4);
  ck_assert_str_eq(text, "at most 2.4");
  cavum_quantity_bounds(text, 0.016, INFINITY);
  ck_assert_str_eq(text, "at least 0.016");
  cavum_quantity_bounds(text, 704.41, 704.43);
  ck_assert_str_eq(text, "704.41 to 704.43");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, known_texts, 0, (int)(sizeof cases / sizeof cases[0]));
  tcase_add_test(tests, shown_interval_covers);
  tcase_add_loop_test(tests, digits_that_were_asked_for, 0,
                      (int)(sizeof rounded / sizeof *rounded));
  tcase_add_test(tests, prefixes_fit);
  tcase_add_test(tests, units_convert_once);
  tcase_add_test(tests, words_of_bases);
  tcase_add_test(tests, bounds_to_one_side_or_both);
  tcase_add_test(tests, figures_are_shown_from_si);
}

CAVUM_TEST_MAIN("quantity", add_tests)
