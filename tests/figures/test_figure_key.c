// SPDX-License-Identifier: GPL-3.0-or-later
// Figures by their keys, also in other units of the same quantity.
#include "cavum/figures.h"
#include "support.h"

static void expect(const char *key, cavum_figure_id id, double unit_si) {
  cavum_figure_id found = CAVUM_NUM_FIGURES;
  double found_si = 0.0;
  cavum_error error = {0};
  ck_assert_msg(cavum_figure_find(&found, &found_si, key, &error) == CAVUM_OK, "%s: %s", key,
                error.message);
  ck_assert_msg(found == id && found_si == unit_si, "%s: figure %d, %g SI units, expected %d, %g",
                key, (int)found, found_si, (int)id, unit_si);
}

START_TEST(each_figure_is_found_by_its_own_key) {
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)i);
    cavum_figure_id found = CAVUM_NUM_FIGURES;
    double unit_si = 0.0;
    ck_assert_int_eq(cavum_figure_find(&found, &unit_si, info.key, NULL), CAVUM_OK);
    ck_assert_int_eq(found, i);
  }
}
END_TEST

// The units in which the screen shows a figure, and those that people write: all are SI prefixes.
START_TEST(other_units_of_the_same_quantity) {
  expect("frequency_MHz", CAVUM_FIGURE_FREQUENCY, 1e6);
  expect("tube_cut_frequency_change_mHz", CAVUM_FIGURE_TUBE_CUT_FREQUENCY, 1e-3);
  expect("tube_cut_r_over_q_linac_change_uohm", CAVUM_FIGURE_TUBE_CUT_R_OVER_Q, 1e-6);
  expect("voltage_at_1_J_V", CAVUM_FIGURE_VOLTAGE_AT_1_J, 1.0);
  expect("voltage_at_1_J_MV", CAVUM_FIGURE_VOLTAGE_AT_1_J, 1e6);
  expect("eacc_at_1_J_MV_per_m", CAVUM_FIGURE_EACC_AT_1_J, 1e6);
  expect("loss_factor_V_per_pC", CAVUM_FIGURE_LOSS_FACTOR, 1e12);
  expect("shunt_impedance_linac_Gohm", CAVUM_FIGURE_SHUNT_IMPEDANCE, 1e9);
  expect("surface_resistance_nohm", CAVUM_FIGURE_SURFACE_RESISTANCE, 1e-9);
  expect("wall_power_at_1_MV_per_m_kW", CAVUM_FIGURE_WALL_POWER, 1e3);
}
END_TEST

START_TEST(units_of_another_quantity_are_refused) {
  static const char *const keys[] = {"voltage_at_1_J_ohm", "frequency_mm", "voltage_at_1_J",
                                     "eacc_at_1_J_MV",     "q0_MHz",       "loss_factor_V"};
  for (size_t i = 0; i < sizeof keys / sizeof *keys; i++) {
    cavum_figure_id found = CAVUM_FIGURE_FREQUENCY;
    double unit_si = 0.0;
    cavum_error error = {0};
    ck_assert_msg(cavum_figure_find(&found, &unit_si, keys[i], &error) == CAVUM_ERR_INPUT, "%s",
                  keys[i]);
    ck_assert_str_ne(error.message, "");
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, each_figure_is_found_by_its_own_key);
  tcase_add_test(tests, other_units_of_the_same_quantity);
  tcase_add_test(tests, units_of_another_quantity_are_refused);
}

CAVUM_TEST_MAIN("figure_key", add_tests)
