// SPDX-License-Identifier: GPL-3.0-or-later
// Field emission: the law, exact readings, coverage of the stated uncertainties, and what must not
// be called emission.
#include "coverage_emission.h"

enum { NUM_DRAWS = 700 };

static cavum_coldtest *exact_test(emission_test *drawn, bool emits) {
  cavum_field_emission_options options = emission_options();
  emission_draw(drawn, NULL, &options, emits);
  return scenario_evaluate(&drawn->setup, drawn->readings, EMISSION_READINGS);
}

// 6.53e9 V/m (phi / eV)^(3/2), with the power by a root; 4 eV make it 8 times that.
START_TEST(the_exponent_is_that_of_the_law) {
  CAVUM_CHECK_RELATIVE(cavum_fowler_nordheim_slope_v_per_m(4.2), 6.53e9 * 4.2 * sqrt(4.2), 1e-14);
  CAVUM_CHECK_RELATIVE(cavum_fowler_nordheim_slope_v_per_m(4.0), 5.224e10, 1e-12);
}
END_TEST

// The search for the slope ends at 1e-8 or so, the square root of rounding in chi squared.
START_TEST(exact_readings_give_the_law_back) {
  emission_test drawn;
  cavum_coldtest *test = exact_test(&drawn, true);
  cavum_field_emission e = {0};
  cavum_field_emission_options options = emission_options();
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, NULL), CAVUM_OK);
  ck_assert(e.radiation.found && e.power.found);
  ck_assert_int_eq((int)e.radiation.num_readings, EMISSION_READINGS);
  CAVUM_CHECK_RELATIVE(e.radiation.enhancement.value, EMISSION_BETA, 1e-6);
  CAVUM_CHECK_RELATIVE(e.background_sv_per_h.value, EMISSION_BACKGROUND, 1e-6);
  CAVUM_CHECK_RELATIVE(e.onset_e_acc_v_per_m.value, emission_onset(2.0, 1.0), 1e-6);
  CAVUM_CHECK_RELATIVE(e.onset_e_peak_v_per_m.value, 2.0 * emission_onset(2.0, 1.0), 1e-6);
  // A little emission is below the onset, too, where the curve of the walls is fitted.
  for (int64_t i = e.num_below; i < EMISSION_READINGS; i++) {
    CAVUM_CHECK_NEAR(e.power_w[i].value, drawn.true_power_w[i], 0.02 * EMISSION_POWER_W);
  }
  CAVUM_CHECK_RELATIVE(e.power.enhancement.value, EMISSION_BETA, 0.02);
  ck_assert_int_eq((int)e.strongest, EMISSION_READINGS - 1);
  ck_assert(isnan(e.power_w[0].value));  // Below the onset.
  CAVUM_CHECK_RELATIVE(e.excess_sv_per_h[EMISSION_READINGS - 1], EMISSION_DOSE, 1e-6);
  // All fields are off alike by 1 % and more: no number of readings averages it away.
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  double relative = point->uncertainty[CAVUM_QUANTITY_E_ACC] / point->value[CAVUM_QUANTITY_E_ACC];
  ck_assert(e.radiation.enhancement.uncertainty > 0.9 * relative * EMISSION_BETA);
  cavum_field_emission_clear(&e);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A step of the dose rate by processing, a factor 30 in the upper half of the readings: no line of
// one emitter goes through both. Said whatever else is said, and of a line that fits nothing is.
START_TEST(a_line_that_does_not_fit_is_said) {
  emission_test drawn;
  cavum_field_emission_options options = emission_options();
  cavum_field_emission e = {0};
  cavum_coldtest *test = exact_test(&drawn, true);
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, NULL), CAVUM_OK);
  ck_assert(strstr(e.caution, "does not fit") == NULL);
  cavum_field_emission_clear(&e);
  cavum_coldtest_destroy(&test);
  for (int i = EMISSION_READINGS - 3; i < EMISSION_READINGS; i++) {
    drawn.readings[i].radiation_sv_per_h *= i % 2 ? 30.0 : 1.0 / 30.0;
  }
  test = scenario_evaluate(&drawn.setup, drawn.readings, EMISSION_READINGS);
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, NULL), CAVUM_OK);
  printf("%s\n", e.caution);
  ck_assert(!e.radiation.found ||
            strstr(e.caution, "radiation: one Fowler-Nordheim line does not"));
  ck_assert(e.radiation.found);
  cavum_field_emission_clear(&e);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(a_dose_rate_can_be_the_criterion) {
  emission_test drawn;
  cavum_coldtest *test = exact_test(&drawn, true);
  cavum_field_emission ratio = {0}, dose = {0};
  cavum_field_emission_options options = emission_options();
  ck_assert_int_eq(cavum_field_emission_evaluate(&ratio, test, &options, NULL), CAVUM_OK);
  options.onset_sv_per_h = EMISSION_BACKGROUND;
  ck_assert_int_eq(cavum_field_emission_evaluate(&dose, test, &options, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(dose.onset_e_acc_v_per_m.value, ratio.onset_e_acc_v_per_m.value, 1e-6);
  // The calibration of the monitor cancels in a ratio, not in a dose rate.
  ck_assert(dose.onset_e_acc_v_per_m.uncertainty > ratio.onset_e_acc_v_per_m.uncertainty);
  options = emission_options();
  options.onset_over_background = 10.0;
  cavum_field_emission_clear(&dose);
  ck_assert_int_eq(cavum_field_emission_evaluate(&dose, test, &options, NULL), CAVUM_OK);
  CAVUM_CHECK_RELATIVE(dose.onset_e_acc_v_per_m.value, emission_onset(2.0, 10.0), 1e-6);
  cavum_field_emission_clear(&ratio);
  cavum_field_emission_clear(&dose);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Background alone, with the noise that is stated: five standard deviations are 1 in 2 million.
START_TEST(a_background_is_no_emission) {
  cavum_field_emission_options options = emission_options();
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int i = 0; i < 100; i++) {
    emission_test drawn;
    emission_draw(&drawn, rng, &options, false);
    cavum_coldtest *test = scenario_evaluate(&drawn.setup, drawn.readings, EMISSION_READINGS);
    cavum_field_emission e = {0};
    ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, NULL), CAVUM_OK);
    ck_assert(!e.radiation.found && isnan(e.onset_e_acc_v_per_m.value));
    ck_assert(strstr(e.caution, "no emission") != NULL);
    ck_assert(fabs(e.background_sv_per_h.value - EMISSION_BACKGROUND) <
              5.0 * e.background_sv_per_h.uncertainty);
    cavum_field_emission_clear(&e);
    cavum_coldtest_destroy(&test);
  }
  gsl_rng_free(rng);
}
END_TEST

// The variants: everything stated; the background too; a dose rate as criterion.
static cavum_field_emission_options variant(int number) {
  cavum_field_emission_options options = emission_options();
  if (number == 1) {
    // The monitor is off by its calibration in the background as well, which is not drawn here.
    options.background_sv_per_h =
        (cavum_estimate){.value = EMISSION_BACKGROUND, .uncertainty = 0.1 * EMISSION_BACKGROUND};
    options.calibration = 0.0;
  }
  if (number == 2) options.onset_sv_per_h = 2e-6;
  return options;
}

START_TEST(intervals_hold_the_truth_as_often_as_stated) {
  cavum_field_emission_options options = variant(_i);
  ck_assert_int_eq(emission_coverage_run(NUM_DRAWS, &options, getenv("CAVUM_SHOW") != NULL), 0);
}
END_TEST

START_TEST(refusals) {
  emission_test drawn;
  cavum_coldtest *test = exact_test(&drawn, true);
  cavum_field_emission e = {.num_points = 77};
  cavum_error error = {0};
  cavum_field_emission_options options = emission_options();
  options.calibration = -0.1;
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, &error), CAVUM_ERR_INPUT);
  options = cavum_field_emission_options_default();
  options.background_sv_per_h = (cavum_estimate){1e-7, 1e-8, 0};
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, &error), CAVUM_ERR_INPUT);
  ck_assert(strstr(error.message, "background") != NULL);
  options = emission_options();
  options.highest_e_acc_v_per_m = 4e6;  // Two readings.
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, &error), CAVUM_ERR_INPUT);
  ck_assert(strstr(error.message, "2 readings") != NULL);
  options.struct_size = 0;
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &options, &error), CAVUM_ERR_USAGE);
  ck_assert_int_eq((int)e.num_points, 77);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Nothing is said of the monitor: the scatter tells.
START_TEST(the_scatter_stands_for_what_is_not_stated) {
  cavum_field_emission_options stated = emission_options(),
                               silent = cavum_field_emission_options_default();
  stated.reading_sv_per_h = 0.0;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  emission_test drawn;
  emission_draw(&drawn, rng, &stated, true);
  gsl_rng_free(rng);
  cavum_coldtest *test = scenario_evaluate(&drawn.setup, drawn.readings, EMISSION_READINGS);
  cavum_field_emission e = {0};
  ck_assert_int_eq(cavum_field_emission_evaluate(&e, test, &silent, NULL), CAVUM_OK);
  ck_assert(e.radiation.found && isnan(e.radiation.chi_squared));
  // 5 % of the reading and 0.15 % of E, steep; 33 degrees of freedom know it to 12 %.
  CAVUM_CHECK_RELATIVE(e.radiation.scatter, 0.052, 4.0 * 0.123);
  CAVUM_CHECK_NEAR(e.radiation.enhancement.value, EMISSION_BETA,
                   4.0 * e.radiation.enhancement.uncertainty);
  cavum_field_emission_clear(&e);
  cavum_coldtest_destroy(&test);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, the_exponent_is_that_of_the_law);
  tcase_add_test(tests, exact_readings_give_the_law_back);
  tcase_add_test(tests, a_line_that_does_not_fit_is_said);
  tcase_add_test(tests, a_dose_rate_can_be_the_criterion);
  tcase_add_test(tests, a_background_is_no_emission);
  tcase_add_loop_test(tests, intervals_hold_the_truth_as_often_as_stated, 0, 3);
  tcase_add_test(tests, refusals);
  tcase_add_test(tests, the_scatter_stands_for_what_is_not_stated);
}

CAVUM_TEST_MAIN("field emission", add_tests)
