// SPDX-License-Identifier: GPL-3.0-or-later
// Rows that no cavity can give are set aside, and what can hardly be meant is said in words.
#include <string.h>

#include "scenario.h"
#include "wave_model.h"

static const wave_cavity CAVITY = {
    .frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1.2e10, .q_pickup = 2e12};
enum { ALL = WAVE_REFLECTED | WAVE_TRANSMITTED | WAVE_EMITTED, LATER = 3 };

static cavum_coldtest_reading read_at(const cavum_coldtest_setup *setup, double energy_j,
                                      int what) {
  wave_errors none = {0};
  return wave_reading(setup, &CAVITY, energy_j, what, &none);
}

static cavum_coldtest_setup uncertain_setup(void) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.common_gain_uncertainty = 0.01;
  setup.decay_noise = 0.005;
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) setup.channels[i].noise = 0.003;
  return setup;
}

// A quench row (more comes back than goes in), a calibration with a decay time of a wrong unit that
// reads 0, one below the zero of its meter: the test is the test without them.
START_TEST(bad_rows_change_nothing) {
  cavum_coldtest_setup setup = uncertain_setup();
  setup.static_heat_w = (cavum_estimate){.value = 1.0, .uncertainty = 0.1};
  cavum_coldtest_reading readings[7] = {read_at(&setup, 0.5, ALL | WAVE_DECAY),
                                        read_at(&setup, 0.5, ALL | WAVE_DECAY),
                                        read_at(&setup, 3.0, LATER),
                                        read_at(&setup, 4.0, LATER),
                                        read_at(&setup, 5.0, LATER),
                                        read_at(&setup, 0.5, ALL | WAVE_DECAY),
                                        read_at(&setup, 6.0, LATER)};
  cavum_coldtest_reading good[4] = {readings[0], readings[2], readings[4], readings[6]};
  for (int i = 0; i < 7; i++) readings[i].line = i + 2;
  readings[1].decay_time_s = 0.0;
  readings[3].power_w[CAVUM_CHANNEL_REFLECTED] = 2.0 * readings[3].power_w[CAVUM_CHANNEL_FORWARD];
  readings[5].power_w[CAVUM_CHANNEL_FORWARD] = -1e-3;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 7);
  cavum_coldtest *clean = scenario_evaluate(&setup, good, 4);
  ck_assert_int_eq((int)cavum_coldtest_num_points(test), 4);
  ck_assert_int_eq((int)cavum_coldtest_num_set_aside(test), 3);
  const int line[] = {3, 5, 7};
  const char *part[] = {"decay time", "not below forward", "forward power"};
  for (int i = 0; i < 3; i++) {
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, i);
    printf("line %d: %s\n", (int)row->line, row->reason);
    ck_assert_int_eq((int)row->line, line[i]);
    ck_assert_ptr_nonnull(strstr(row->reason, part[i]));
  }
  for (int i = 0; i < 4; i++) {
    for (int q = 0; q < CAVUM_NUM_QUANTITIES; q++) {
      ck_assert(scenario_value(test, i, q) == scenario_value(clean, i, q));
      ck_assert(cavum_coldtest_get_point(test, i)->uncertainty[q] ==
                cavum_coldtest_get_point(clean, i)->uncertainty[q]);
    }
    cavum_coldtest_budget budget;
    ck_assert_int_eq(cavum_coldtest_make_budget(&budget, test, i, CAVUM_QUANTITY_Q0, NULL),
                     CAVUM_OK);
    ck_assert(budget.value == scenario_value(test, i, CAVUM_QUANTITY_Q0));
  }
  cavum_coldtest_destroy(&test);
  cavum_coldtest_destroy(&clean);
}
END_TEST

// With the coupling from emitted power a later step may have the reflected power alone.
START_TEST(later_steps_take_the_coupling_from_what_they_have) {
  cavum_coldtest_setup setup = uncertain_setup();
  const cavum_coupling_method methods[] = {CAVUM_COUPLING_EMITTED, CAVUM_COUPLING_BOTH};
  for (int i = 0; i < 2; i++) {
    setup.coupling = methods[i];
    cavum_coldtest_reading readings[2] = {read_at(&setup, 0.5, ALL | WAVE_DECAY),
                                          read_at(&setup, 3.0, LATER)};
    cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
    ck_assert_int_eq((int)cavum_coldtest_num_set_aside(test), 0);
    ck_assert_int_eq(cavum_coldtest_get_point(test, 1)->method, CAVUM_COUPLING_REFLECTED);
    CAVUM_CHECK_RELATIVE(scenario_value(test, 1, CAVUM_QUANTITY_Q0), 2e10, 1e-4);
    CAVUM_CHECK_RELATIVE(scenario_value(test, 1, CAVUM_QUANTITY_Q_EXTERNAL), 1.2e10, 1e-4);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

static bool has_remark(const cavum_coldtest *test, const char *part) {
  bool found = false;
  for (int i = 0; i < cavum_coldtest_num_remarks(test); i++) {
    printf("%s\n", cavum_coldtest_get_remark(test, i));
    found = found || strstr(cavum_coldtest_get_remark(test, i), part);
  }
  return found;
}

static void expect_remark(const cavum_coldtest_setup *setup, cavum_coldtest_reading reading,
                          const char *part) {
  cavum_coldtest *test = scenario_evaluate(setup, &reading, 1);
  ck_assert_msg(has_remark(test, part), "no remark with %s", part);
  cavum_coldtest_destroy(&test);
}

// Where no row is possible, the wrong sign of a chain is why, and no remark would be seen.
START_TEST(a_chain_that_amplifies_is_named_beside_the_error) {
  cavum_coldtest_setup setup = uncertain_setup();
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  cavum_coldtest_readings readings = {.items = &reading, .num_readings = 1, .file = "r.csv"};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  setup.channels[CAVUM_CHANNEL_FORWARD].attenuation_db = -40.0;
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &readings, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "reflected power not below forward power"));
  ck_assert_ptr_nonnull(strstr(error.message, "channel forward: its chain of -40 dB amplifies"));
}
END_TEST

// Where the only calibration was set aside, later rows have no Q_t: the message names it too.
START_TEST(a_calibration_that_was_set_aside_is_named_beside_the_error) {
  cavum_coldtest_setup setup = uncertain_setup();
  cavum_coldtest_reading reading = read_at(&setup, 3.0, LATER);
  reading.line = 3;
  cavum_coldtest_set_aside row = {.line = 2, .reason = "r.csv:2: column 1: no number"};
  cavum_coldtest_readings readings = {
      .items = &reading, .num_readings = 1, .file = "r.csv", .num_set_aside = 1, .set_aside = &row};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &readings, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_ptr_nonnull(strstr(error.message, "r.csv:3: no decay time, and no Q_t"));
  ck_assert_ptr_nonnull(strstr(error.message, "; set aside before: r.csv:2: column 1: no number"));
}
END_TEST

START_TEST(what_can_hardly_be_meant_is_said) {
  cavum_coldtest_setup setup = uncertain_setup();
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  ck_assert_int_eq(cavum_coldtest_num_remarks(test), 0);
  cavum_coldtest_destroy(&test);
  reading.bath_temperature_k = 300.0;
  expect_remark(&setup, reading, "300 K");
  reading.bath_temperature_k = 2.0;
  cavum_coldtest_setup changed = setup;
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) changed.channels[i].attenuation_db = -30.0;
  expect_remark(&changed, reading, "amplifies");
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) changed.channels[i].attenuation_db = 50.0;
  expect_remark(&changed, reading, "MV/m");
  changed = setup;
  changed.common_gain_uncertainty = 0.0;
  changed.channels[CAVUM_CHANNEL_TRANSMITTED].noise = 0.0;
  expect_remark(&changed, reading, "all exact): transmitted");
  changed.frequency_hz = 1.35e9;
  expect_remark(&changed, reading, "frequencies");
  // The figures are of a mode at another frequency; a tuned, cold cell is within 1 % of it.
  changed = setup;
  changed.cell_frequency_hz = 2.0 * setup.frequency_hz;
  expect_remark(&changed, reading, "another mode or cell");
  changed.cell_frequency_hz = 1.005 * setup.frequency_hz;
  test = scenario_evaluate(&changed, &reading, 1);
  ck_assert_int_eq(cavum_coldtest_num_remarks(test), 0);
  cavum_coldtest_destroy(&test);
}
END_TEST

static void expect_none(const cavum_coldtest_setup *setup, cavum_coldtest_reading reading) {
  cavum_coldtest *test = scenario_evaluate(setup, &reading, 1);
  has_remark(test, "");
  ck_assert_int_eq(cavum_coldtest_num_remarks(test), 0);
  cavum_coldtest_destroy(&test);
}

START_TEST(peak_fields_and_resistance_are_those_of_cavities) {
  cavum_coldtest_setup setup = uncertain_setup(), changed = setup;
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  // 4.26 mT/(MV/m) with tesla taken for millitesla, and its inverse slip.
  changed.bpk_over_eacc_t_per_v_per_m.value = 4.26e-12;
  expect_remark(&changed, reading, "B_pk/E_acc of 0.00426 mT/(MV/m)");
  changed.bpk_over_eacc_t_per_v_per_m.value = 15e-9;
  expect_none(&changed, reading);
  changed = setup;
  changed.epk_over_eacc.value = 0.5;
  expect_remark(&changed, reading, "E_pk/E_acc of 0.5");
  // E_acc of the cavity at 120 J, sqrt(105 ohm w U) / 0.1153 m = 88.0 MV/m: 375 mT; at 40 J 216 mT,
  // at 52 J 247 mT.
  expect_none(&setup, read_at(&setup, 40.0, ALL | WAVE_DECAY));
  expect_remark(
      &setup, read_at(&setup, 52.0, ALL | WAVE_DECAY),
      "niobium is not superconducting above some 240 mT, 1.2 times its thermodynamic field");
  // R_s = 270 ohm / 2e10 = 13.5 nohm; the rule has 10.9 nohm at 2 K and 80 nohm at 2.7 K.
  reading.bath_temperature_k = 2.0;
  expect_none(&setup, reading);
  reading.bath_temperature_k = 2.7;
  expect_remark(&setup, reading, "R_s of 13.5 nohm at 2.7 K");
}
END_TEST

// Slips that leave the cavity a Q0: found by what a wall, a meter or a bath cannot do.
START_TEST(slips_of_units_in_readings_are_said) {
  cavum_coldtest_setup setup = uncertain_setup(), changed = setup;
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY), other = reading;
  // Seconds in a column of milliseconds: R_s of 13.5 nohm becomes 13.5 uohm; 0.18 MV/m from 5.7.
  other.bath_temperature_k = 2.0;
  other.decay_time_s *= 1e-3;
  expect_remark(&setup, other, "R_s of 1.35e+04 nohm at 2 K");
  expect_remark(&setup, other, "no reading is above 0.18");
  other.decay_time_s = reading.decay_time_s;
  for (int i = 0; i < CAVUM_CHANNEL_EXTRA; i++) {
    other.power_w[i] = 1e-3 * (1.0 + 1e-6 * other.power_w[i]);
    changed.channels[i].attenuation_db = 10.0 * log10(reading.power_w[i] / 1e-3) + 20.0;
  }
  expect_remark(&changed, other, "watts in columns of dBm");
}
END_TEST

// ITS-90: helium boils at 2.0000 K under 31.29 mbar, at 1.7 K under 11.28 mbar, at 4.222 K under
// 1013.25 mbar (table of the scale; Metrologia 27 (1990) 3, not checked against the source).
START_TEST(a_bath_boils_at_its_pressure) {
  static const double good[][2] = {{2.0, 3129.0},  {1.7, 1128.0}, {4.222, 101325.0},
                                   {2.05, 3129.0}, {1.1, 50.0},   {5.15, 2.2e5}};
  static const double bad[][2] = {
      {2.0, 31.29}, {2.0, 312900.0}, {2.15, 3129.0}, {4.6, 101325.0}, {2.0, 101325.0}};
  cavum_coldtest_setup setup = uncertain_setup();
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  for (size_t i = 0; i < sizeof good / sizeof *good; i++) {
    reading.bath_temperature_k = good[i][0];
    reading.bath_pressure_pa = good[i][1];
    cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
    ck_assert_msg(!has_remark(test, "helium boils"), "%g K", good[i][0]);
    cavum_coldtest_destroy(&test);
  }
  for (size_t i = 0; i < sizeof bad / sizeof *bad; i++) {
    reading.bath_temperature_k = bad[i][0];
    reading.bath_pressure_pa = bad[i][1];
    expect_remark(&setup, reading,
                  i == 0   ? "at 0.3129 mbar, where helium boils below 1.25 K"
                  : i == 1 ? "helium boils above 5 K"
                  : i == 4 ? "helium boils at 4.22 K"
                           : "helium boils at");
  }
}
END_TEST

// Readings that scatter, with meters and chains that are exact: nothing moves all of them together.
START_TEST(uncertainty_that_readings_share_is_missed) {
  cavum_coldtest_setup setup = uncertain_setup();
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  expect_none(&setup, reading);
  setup.common_gain_uncertainty = 0.0;
  expect_remark(&setup, reading, "no uncertainty of any meter or chain");
  setup.channels[CAVUM_CHANNEL_FORWARD].attenuation_uncertainty_db = 0.05;
  expect_none(&setup, reading);
}
END_TEST

static void expect_refused(const cavum_coldtest_setup *setup, cavum_coldtest_reading reading,
                           const char *part) {
  cavum_coldtest_readings readings = {.num_readings = 1, .items = &reading, .file = "r.csv"};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, setup, &readings, &error), CAVUM_ERR_INPUT);
  printf("%s\n", error.message);
  ck_assert_msg(strstr(error.message, part) != NULL, "%s has no %s", error.message, part);
}

// A length or a frequency off by 1000, and critical coupling known exactly, are no test at all.
START_TEST(slips_of_units_are_refused) {
  cavum_coldtest_setup setup = uncertain_setup(), changed = setup;
  cavum_coldtest_reading reading = read_at(&setup, 0.5, ALL | WAVE_DECAY);
  const double factor[] = {1e-3, 1e3};
  for (int i = 0; i < 2; i++) {
    changed.accelerating_length_m.value = factor[i] * setup.accelerating_length_m.value;
    expect_refused(&changed, reading, "half wavelengths");
    cavum_coldtest_reading other = reading;
    other.frequency_hz *= factor[i];
    expect_refused(&setup, other, "half wavelengths");
  }
  reading.power_w[CAVUM_CHANNEL_REFLECTED] = 0.0;
  expect_refused(&setup, reading, "exactly 0 W");
  setup.channels[CAVUM_CHANNEL_REFLECTED].zero_uncertainty_w = 1e-6;
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(a_test_without_uncertainty_says_so) {
  cavum_coldtest_setup setup = scenario_setup();
  expect_remark(&setup, read_at(&setup, 0.5, ALL | WAVE_DECAY), "no uncertainty is stated");
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, bad_rows_change_nothing);
  tcase_add_test(tests, later_steps_take_the_coupling_from_what_they_have);
  tcase_add_test(tests, a_chain_that_amplifies_is_named_beside_the_error);
  tcase_add_test(tests, a_calibration_that_was_set_aside_is_named_beside_the_error);
  tcase_add_test(tests, what_can_hardly_be_meant_is_said);
  tcase_add_test(tests, peak_fields_and_resistance_are_those_of_cavities);
  tcase_add_test(tests, slips_of_units_in_readings_are_said);
  tcase_add_test(tests, a_bath_boils_at_its_pressure);
  tcase_add_test(tests, uncertainty_that_readings_share_is_missed);
  tcase_add_test(tests, slips_of_units_are_refused);
  tcase_add_test(tests, a_test_without_uncertainty_says_so);
}

CAVUM_TEST_MAIN("coldtest rows", add_tests)
