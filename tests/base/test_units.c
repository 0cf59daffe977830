// SPDX-License-Identifier: GPL-3.0-or-later
// The table of units against the SI: prefixes as powers of ten (SI Brochure, 9th edition, table 7),
// the inch of exactly 25.4 mm, and symbols taken apart into prefix and unit.
#include <string.h>

#include "base/units.h"
#include "support.h"

// What one stands for, from the text of its symbol alone: prefix and base symbol.
static double si_of_part(const char *part, size_t length) {
  static const struct {
    char letter;
    int exponent;
  } prefixes[] = {{'p', -12}, {'n', -9}, {'u', -6}, {'m', -3}, {'c', -2},
                  {'k', 3},   {'M', 6},  {'G', 9},  {'T', 12}};
  static const char *const bases[] = {"m",   "Hz", "s", "K",  "W", "J",  "V",  "T",
                                      "ohm", "S",  "C", "Sv", "h", "Pa", "rad"};
  char text[16] = "";
  ck_assert_uint_lt(length, sizeof text);
  memcpy(text, part, length);
  if (strcmp(text, "inch") == 0) return 0.0254;
  if (strcmp(text, "%") == 0) return 0.01;
  if (strcmp(text, "mbar") == 0) return 100.0;
  if (strcmp(text, "ppm") == 0) return 1e-6;
  if (strcmp(text, "degree") == 0) return acos(-1.0) / 180.0;
  if (strcmp(text, "ohm^2") == 0 || strcmp(text, "ohm K") == 0 || text[0] == '\0') return 1.0;
  for (size_t b = 0; b < sizeof bases / sizeof *bases; b++) {
    if (strcmp(text, bases[b]) == 0) return 1.0;
    for (size_t p = 0; p < sizeof prefixes / sizeof *prefixes; p++) {
      if (text[0] == prefixes[p].letter && strcmp(text + 1, bases[b]) == 0) {
        return pow(10.0, prefixes[p].exponent);
      }
    }
  }
  ck_abort_msg("no SI unit '%s'", text);
}

// Parts between '/', the divisor perhaps in parentheses with a '/' of its own, and squared.
static double si_of(const char *symbol) {
  size_t first = strcspn(symbol, "/");
  double value = si_of_part(symbol, first);
  if (!symbol[first]) return value;
  const char *rest = symbol + first + 1;
  if (*rest != '(') return value / si_of_part(rest, strlen(rest));
  char inner[16] = "";
  size_t length = strcspn(rest, ")");
  ck_assert_uint_lt(length, sizeof inner);
  memcpy(inner, rest + 1, length - 1);
  double divisor = si_of(inner);
  return value / (strcmp(rest + length, ")^2") == 0 ? divisor * divisor : divisor);
}

START_TEST(factors_are_those_of_the_si) {
  for (int i = 0; i < CAVUM_NUM_UNITS; i++) {
    cavum_unit unit = (cavum_unit)i;
    double expected = si_of(cavum_unit_symbol(unit));
    printf("%-10s 1 unit = %g SI, expected %g\n", cavum_unit_symbol(unit),
           cavum_from_unit(1.0, unit), expected);
    // The expected number is a product of up to three rounded powers of ten.
    CAVUM_CHECK_RELATIVE(cavum_from_unit(1.0, unit), expected, 4e-16);
    CAVUM_CHECK_RELATIVE(cavum_in_unit(expected, unit), 1.0, 4e-16);
  }
}
END_TEST

START_TEST(symbols_differ) {
  for (int i = 1; i < CAVUM_NUM_UNITS; i++) {
    for (int j = 1; j < i; j++) {
      ck_assert_str_ne(cavum_unit_symbol((cavum_unit)i), cavum_unit_symbol((cavum_unit)j));
    }
  }
}
END_TEST

START_TEST(conversions_round_once) {
  // Numbers that a double holds: equal to the last bit to what is written in SI.
  ck_assert(cavum_from_unit(42.0, CAVUM_UNIT_MM) == 0.042);
  ck_assert(cavum_from_unit(0.75, CAVUM_UNIT_MM) == 0.00075);
  ck_assert(cavum_from_unit(5.0, CAVUM_UNIT_NOHM) == 5e-9);
  ck_assert(cavum_from_unit(1300.5, CAVUM_UNIT_MHZ) == 1300.5e6);
  ck_assert(cavum_in_mhz(1.3e9) == 1300.0);
  ck_assert(cavum_in_mv_per_m(25.5e6) == 25.5);
  ck_assert(cavum_in_percent(0.375) == 37.5);
  // Others are rounded when they are written too: one unit in the last place, 2^-52, in all.
  CAVUM_CHECK_RELATIVE(cavum_from_unit(103.3, CAVUM_UNIT_MM), 0.1033, 2.3e-16);
  CAVUM_CHECK_RELATIVE(cavum_from_unit(5.3, CAVUM_UNIT_NOHM), 5.3e-9, 2.3e-16);
  CAVUM_CHECK_RELATIVE(cavum_in_mm(0.0577), 57.7, 2.3e-16);
  CAVUM_CHECK_RELATIVE(cavum_in_nohm(15e-9), 15.0, 2.3e-16);
}
END_TEST

START_TEST(names_are_found) {
  static const struct {
    const char *key;
    cavum_unit unit;
  } keys[] = {{"iris_radius_mm", CAVUM_UNIT_MM},
              {"contour.path[3].line_to.z_mm", CAVUM_UNIT_MM},
              {"near_MHz", CAVUM_UNIT_MHZ},
              {"temperature_K", CAVUM_UNIT_K},
              {"residual_nohm", CAVUM_UNIT_NOHM},
              {"surface_resistance_ohm", CAVUM_UNIT_OHM},
              {"conductivity_S_per_m", CAVUM_UNIT_S_PER_M},
              {"gradient_MV_per_m", CAVUM_UNIT_MV_PER_M},
              {"bpk_over_eacc_mT_per_MV_per_m", CAVUM_UNIT_MILLITESLA_PER_MV_PER_M},
              {"eps_r", CAVUM_UNIT_SI},
              {"beta", CAVUM_UNIT_SI},
              {"mm", CAVUM_UNIT_SI},
              {"_mm", CAVUM_UNIT_SI},
              {"count", CAVUM_UNIT_SI},
              {"", CAVUM_UNIT_SI}};
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    ck_assert_msg(cavum_unit_of_key(keys[i].key) == keys[i].unit, "'%s'", keys[i].key);
  }
  cavum_unit unit = CAVUM_UNIT_SI;
  ck_assert(cavum_unit_find_length(&unit, "inch"));
  ck_assert(unit == CAVUM_UNIT_INCH);
  ck_assert(!cavum_unit_find_length(&unit, "MHz"));
  ck_assert(unit == CAVUM_UNIT_INCH);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, factors_are_those_of_the_si);
  tcase_add_test(tests, symbols_differ);
  tcase_add_test(tests, conversions_round_once);
  tcase_add_test(tests, names_are_found);
}

CAVUM_TEST_MAIN("units", add_tests)
