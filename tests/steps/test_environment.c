// SPDX-License-Identifier: GPL-3.0-or-later
// Steps that leave the shape alone: air, cooling, stated changes; aims and measurements in closed
// form.
#include "step_chain.h"

static const double KHZ = 1e3;

// Refractivity of ITU-R P.453-7: the dry part 77.6 p / T and the wet one 3.732e5 e / T^2 apart,
// with e by the saturation pressure over water; pressures in hPa.
static double refractivity_ppm(const cavum_air *air) {
  double t = air->temperature_c, kelvin = t + 273.15;
  double vapour = air->humidity_percent / 100 * 6.1121 * exp(17.502 * t / (t + 240.97));
  return 77.6 * air->pressure_pa / 100 / kelvin + 77.6 * 4810 * vapour / pow(kelvin, 2);
}

START_TEST(air_has_the_refractivity_of_the_recommendation) {
  const cavum_air table[] = {{0, 101325, 0},   {15, 101325, 0},  {20, 101325, 0},  {20, 101325, 50},
                             {23, 101325, 50}, {25, 101325, 60}, {20, 101325, 100}};
  for (size_t i = 0; i < sizeof table / sizeof table[0]; i++) {
    double n = 0.0, u = 0.0;
    cavum_status status = cavum_air_refractivity(&n, &u, &table[i], NULL);
    ck_assert_int_eq(status, CAVUM_OK);
    CAVUM_CHECK_RELATIVE(n, refractivity_ppm(&table[i]), 1e-14);  // some roundings
    CAVUM_CHECK_RELATIVE(u, 0.005 * n / sqrt(3.0), 1e-12);
  }
  // The size of it: dry air at 15 degrees Celsius has 273 ppm at radio frequencies.
  CAVUM_CHECK_NEAR(refractivity_ppm(&table[1]), 273.0, 0.5);
}
END_TEST

START_TEST(pumping_air_out_raises_the_frequency) {
  const struct {
    const char *text;
    cavum_air air;
  } table[] = {{"{temperature_C: 20}", {20, 101325, 0}},
               {"{temperature_C: 20, humidity_percent: 50}", {20, 101325, 50}},
               {"{temperature_C: 25, humidity_percent: 60}", {25, 101325, 60}}};
  for (size_t i = 0; i < 3; i++) {
    char text[256];
    snprintf(text, sizeof text, "steps:\n  - air: %s\n  - air: {gas: vacuum}\n", table[i].text);
    cavum_steps_result *result = step_chain_run("pillbox.yaml", text);
    ck_assert_int_eq(result->num_steps, 3);
    // f goes as 1 / n, n = 1 + N; 1e-12 of 1300 MHz is 1 mHz.
    double in_air = result->steps[1]->frequency_hz;
    CAVUM_CHECK_NEAR(result->steps[2]->change_hz, 1e-6 * refractivity_ppm(&table[i].air) * in_air,
                     1e-3);
    CAVUM_CHECK_NEAR(result->steps[2]->frequency_hz, 1.3e9, 1.0);
    ck_assert(result->steps[2]->uncertainty_hz < 1e-6);  // the air is gone, and its uncertainty
    ck_assert(result->steps[1]->uncertainty_hz > 500.0);
    cavum_steps_result_destroy(&result);
  }
}
END_TEST

START_TEST(cooling_is_an_exact_scaling) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml", "steps:\n  - cool: {material: niobium, from_K: 293, to_K: 4}\n");
  CAVUM_CHECK_RELATIVE(result->steps[1]->change_hz,
                       result->steps[0]->frequency_hz * (1.0 / (1 - 1.43e-3) - 1.0), 1e-12);
  CAVUM_CHECK_RELATIVE(result->steps[1]->frequency_hz,
                       result->steps[0]->frequency_hz / (1 - 1.43e-3), 1e-15);
  ck_assert_ptr_nonnull(strstr(result->steps[1]->what, "Ekin"));
  cavum_steps_result_destroy(&result);
}
END_TEST

// Cooling by two steps is cooling by one, and warming up again undoes it.
START_TEST(contractions_compose) {
  double a = 0.0, b = 0.0, c = 0.0, back = 0.0;
  ck_assert_int_eq(cavum_contraction(&a, NULL, NULL, "copper", 293, 60, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_contraction(&b, NULL, NULL, "copper", 60, 4, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_contraction(&c, NULL, NULL, "copper", 293, 4, NULL), CAVUM_OK);
  ck_assert_int_eq(cavum_contraction(&back, NULL, NULL, "copper", 4, 293, NULL), CAVUM_OK);
  CAVUM_CHECK_NEAR(c, 3.24e-3, 1e-12);
  CAVUM_CHECK_NEAR((1 - a) * (1 - b), 1 - c, 1e-15);
  CAVUM_CHECK_NEAR((1 - back) * (1 - c), 1.0, 1e-15);
  ck_assert(b > 2e-5 && b < 22e-5);  // between those of 40 K and 77 K
}
END_TEST

// Two steps by the same source add up, by sources of their own in quadrature.
START_TEST(a_source_that_acts_twice_is_correlated) {
  const char *const text =
      "steps:\n"
      "  - {name: a, anneal: {change_kHz: 10, uncertainty_kHz: 3%s}}\n"
      "  - {name: b, anneal: {change_kHz: 10, uncertainty_kHz: 4%s}}\n";
  const double expected[] = {5.0 * KHZ, 7.0 * KHZ};
  for (int shared = 0; shared < 2; shared++) {
    char filled[256];
    const char *source = shared ? ", source: furnace" : "";
    snprintf(filled, sizeof filled, text, source, source);
    cavum_steps_result *result = step_chain_run("pillbox.yaml", filled);
    ck_assert_int_eq(result->num_sources, 2 - shared);
    // The first acts as a part of the frequency: 10 kHz of 1.3 GHz more behind the second.
    CAVUM_CHECK_RELATIVE(result->steps[2]->uncertainty_hz, expected[shared], 2e-5);
    CAVUM_CHECK_NEAR(result->steps[2]->change_uncertainty_hz, 4.0 * KHZ, 0.1);
    cavum_steps_result_destroy(&result);
  }
}
END_TEST

START_TEST(aims_lead_back_from_the_target) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "target: {frequency_MHz: 1302, tolerance_kHz: 100}\n"
      "steps:\n"
      "  - {name: a, anneal: {change_kHz: -50, uncertainty_kHz: 20}}\n"
      "  - {name: cold, cool: {contraction: 1.43e-3, contraction_uncertainty: 2e-5}}\n");
  const cavum_step *warm = result->steps[1], *cold = result->steps[2];
  CAVUM_CHECK_NEAR(cold->aim_hz, 1302e6, 1e-6);
  CAVUM_CHECK_NEAR(cold->tolerance_hz, 100.0 * KHZ, 1e-6);
  CAVUM_CHECK_NEAR(warm->aim_hz, 1302e6 * (1 - 1.43e-3), 1e-5);
  // 2e-5 of the frequency there, to the size of the contraction.
  CAVUM_CHECK_RELATIVE(warm->aim_uncertainty_hz, 2e-5 * 1302e6, 2e-3);
  double used = 1.959964 * warm->aim_uncertainty_hz, all = 100.0 * KHZ * (1 - 1.43e-3);
  CAVUM_CHECK_RELATIVE(warm->tolerance_hz, sqrt(all * all - used * used), 1e-9);
  cavum_steps_result_destroy(&result);
}
END_TEST

// Normal numbers conditioned by hand: a prior of 300 kHz and a measurement of 40.
START_TEST(a_measurement_tells_what_the_cell_is) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "drawing: {uncertainty_kHz: 300}\n"
      "steps:\n"
      "  - {name: a, anneal: {change_kHz: 0, uncertainty_kHz: 0}, measured_MHz: 1299.5,\n"
      "     measured_uncertainty_kHz: 40}\n"
      "  - {name: b, anneal: {change_kHz: 100, uncertainty_kHz: 30}}\n");
  double weight = 300.0 * 300.0 / (300.0 * 300.0 + 40.0 * 40.0);
  double left = sqrt(1.0 / (1.0 / (300.0 * 300.0) + 1.0 / (40.0 * 40.0)));
  CAVUM_CHECK_NEAR(result->steps[1]->expected_hz, 1.3e9 - 500.0 * KHZ * weight, 1.0);
  CAVUM_CHECK_NEAR(result->steps[1]->expected_uncertainty_hz, left * KHZ, 1.0);
  // Parts of the frequency: 100 kHz of 1.3 GHz more.
  CAVUM_CHECK_NEAR(result->steps[2]->expected_hz, result->steps[1]->expected_hz + 100.0 * KHZ,
                   60.0);
  CAVUM_CHECK_NEAR(result->steps[2]->expected_uncertainty_hz, hypot(left, 30.0) * KHZ, 5.0);
  cavum_steps_result_destroy(&result);
}
END_TEST

// What was found at the first of two steps of one source foretells the second.
START_TEST(a_rate_that_was_found_counts_later) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "steps:\n"
      "  - {name: start, anneal: {change_kHz: 0}, measured_MHz: 1300}\n"
      "  - {name: a, anneal: {change_kHz: -100, uncertainty_kHz: 10, source: rate},\n"
      "     measured_MHz: 1299.88}\n"
      "  - {name: b, anneal: {change_kHz: -50, uncertainty_kHz: 5, source: rate}}\n");
  ck_assert_int_eq(result->num_sources, 1);
  CAVUM_CHECK_NEAR(fabs(result->sources[0]->found), 2.0, 1e-3);  // 20 kHz of 10
  CAVUM_CHECK_NEAR(result->sources[0]->found_uncertainty, 0.0, 1e-3);
  CAVUM_CHECK_NEAR(result->steps[3]->expected_hz, 1.3e9 - 180.0 * KHZ, 20.0);
  cavum_steps_result_destroy(&result);
}
END_TEST

// Sensitivities that are stated: products, and a stretch by force over stiffness.
START_TEST(forces_act_by_what_is_stated) {
  cavum_steps_result *result = step_chain_run(
      "pillbox.yaml",
      "steps:\n"
      "  - pressure: {change_mbar: -1000, sensitivity_Hz_per_mbar: -30,\n"
      "               sensitivity_uncertainty_Hz_per_mbar: 2, source: bellows}\n"
      "  - pressure: {change_mbar: 500, sensitivity_Hz_per_mbar: -30,\n"
      "               sensitivity_uncertainty_Hz_per_mbar: 2, source: bellows}\n"
      "  - lorentz: {gradient_MV_per_m: 20, coefficient_Hz_per_MV_per_m_squared: -1.5}\n"
      "  - preload: {force_N: -1500, stiffness_N_per_mm: 3000}\n");
  CAVUM_CHECK_NEAR(result->steps[1]->change_hz, 30.0 * KHZ, 1e-5);
  CAVUM_CHECK_NEAR(result->steps[2]->change_hz, -15.0 * KHZ, 1e-5);
  // One sensitivity: what the first did wrong, the second takes half of back.
  CAVUM_CHECK_NEAR(result->steps[2]->uncertainty_hz, 1.0 * KHZ, 0.1);
  CAVUM_CHECK_NEAR(result->steps[3]->change_hz, -600.0, 1e-5);
  CAVUM_CHECK_NEAR(result->steps[4]->amount, -0.5e-3, 1e-15);
  CAVUM_CHECK_NEAR(result->steps[4]->change_hz, 0.0, 1.0);  // TM010 does not know the length
  cavum_steps_result_destroy(&result);
}
END_TEST

static const struct {
  const char *rest, *message;
} refused[] = {
    {"steps: []\n", "steps.yaml:2:8: steps: expected 1 to 63 steps"},
    {"steps:\n  - {name: x}\n", "steps.yaml:3:5: steps[1]: expected exactly one of"},
    {"steps:\n  - {cool: {material: unobtainium, from_K: 293, to_K: 4}}\n",
     "steps.yaml:3:12: steps[1].cool: no table of the contraction of 'unobtainium'"},
    {"steps:\n  - {cool: {material: niobium, from_K: 400, to_K: 4}}\n",
     "steps.yaml:3:12: steps[1].cool: the table of niobium goes from 0 to 303 K, found 400 K"},
    {"steps:\n  - {cool: {material: niobium}}\n", "expected material with from_K and to_K"},
    {"steps:\n  - {air: {temperature_C: 60}}\n", "the formula holds from -20 to 50"},
    {"steps:\n  - {air: {gas: vacuum, temperature_C: 20}}\n", "does not go with gas: vacuum"},
    {"steps:\n  - {air: {humidity_percent: 20}}\n", "missing key 'temperature_C'"},
    {"steps:\n  - {air: {temperature_C: 30, pressure_mbar: 1, humidity_percent: 100}}\n",
     "pressure from that of its vapour"},
    {"steps:\n  - {anneal: {chang_kHz: 3}}\n", "chang_kHz"},
    {"steps:\n  - {anneal: {change_kHz: 3}, measured_uncertainty_kHz: 3}\n",
     "goes with measured_MHz"},
    {"mode: 2\nsteps:\n  - {air: {gas: vacuum}}\n", "the cell asks for 1 mode"},
    {"target: {tolerance_kHz: 3}\nsteps:\n  - {air: {gas: vacuum}}\n", "frequency_MHz"},
};

START_TEST(bad_files_are_refused_with_their_place) {
  cavum_error error = {0};
  cavum_steps *steps = NULL;
  cavum_status status = step_chain_open(&steps, "pillbox.yaml", refused[_i].rest, &error);
  printf("%s\n", error.message);
  ck_assert_int_ne(status, CAVUM_OK);
  ck_assert_int_eq(cavum_status_exit(status), 2);
  ck_assert_ptr_nonnull(strstr(error.message, refused[_i].message));
  ck_assert_ptr_null(strchr(error.message, '\n'));
  ck_assert_ptr_null(steps);
}
END_TEST

START_TEST(what_must_be_given_is_asked_for) {
  cavum_error error = {0};
  cavum_steps *steps = NULL;
  double number = 0.0;
  ck_assert_int_eq(
      step_chain_open(&steps, "nowhere.yaml", "steps:\n  - air: {gas: vacuum}\n", &error),
      CAVUM_ERR_FILE);
  ck_assert_int_eq(cavum_steps_open(NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_steps_open_text(NULL, NULL, 0, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_steps_run(NULL, NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_store_steps_to_json(NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_air_refractivity(&number, NULL, NULL, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_contraction(&number, NULL, NULL, NULL, 1, 2, &error), CAVUM_ERR_USAGE);
  ck_assert_str_eq(cavum_steps_cell_path(NULL), "");
  ck_assert_str_eq(cavum_step_kind_name((cavum_step_kind)99), "unknown");
  cavum_steps_close(NULL);
  cavum_steps_result_destroy(NULL);
}
END_TEST

static void add(TCase *tests) {
  tcase_add_unchecked_fixture(tests, step_chain_set_up, step_chain_tear_down);
  tcase_add_test(tests, air_has_the_refractivity_of_the_recommendation);
  tcase_add_test(tests, pumping_air_out_raises_the_frequency);
  tcase_add_test(tests, cooling_is_an_exact_scaling);
  tcase_add_test(tests, contractions_compose);
  tcase_add_test(tests, a_source_that_acts_twice_is_correlated);
  tcase_add_test(tests, aims_lead_back_from_the_target);
  tcase_add_test(tests, a_measurement_tells_what_the_cell_is);
  tcase_add_test(tests, a_rate_that_was_found_counts_later);
  tcase_add_test(tests, forces_act_by_what_is_stated);
  tcase_add_loop_test(tests, bad_files_are_refused_with_their_place, 0,
                      sizeof refused / sizeof refused[0]);
  tcase_add_test(tests, what_must_be_given_is_asked_for);
}

CAVUM_TEST_MAIN("steps", add)
