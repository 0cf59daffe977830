// SPDX-License-Identifier: GPL-3.0-or-later
// Coverage of every printed result over 22 ways of measuring, 400 draws each;
// bench_coldtest_coverage makes 10,000. What may be outside is stated in coverage_judge().
#include "coverage.h"

enum { NUM_DRAWS = 400 };

START_TEST(intervals_hold_the_truth_as_often_as_stated) {
  ck_assert_int_eq(coverage_run(_i, NUM_DRAWS, false, false), 0);
}
END_TEST

/** Counts of a series against temperature. */
typedef struct series_count {
  int residual, gap, at_1_8_k;
} series_count;

enum { NUM_TEMPERATURES = 9, NUM_SERIES = 400 };
static const double COMMON_K = 10e-3, OWN_K = 2e-3, TRUE_RESIDUAL_OHM = 4e-9, TRUE_GAP_K = 17.67;

static double true_resistance_ohm(double temperature_k) {
  return 1.4e-4 / temperature_k * exp(-TRUE_GAP_K / temperature_k) + TRUE_RESIDUAL_OHM;
}

static bool holds(cavum_estimate estimate, double truth) {
  return fabs(estimate.value - truth) <= 1.959964 * estimate.uncertainty;
}

// One series: a thermometer that is off by one error in all readings, and by one of its own in
// each.
static void draw_series(series_count *count, gsl_rng *rng, bool declared_common) {
  cavum_coldtest_setup setup = coverage_setup(&COVERAGE_CASES[0]);
  setup.temperature_uncertainty_k = declared_common ? OWN_K : hypot(OWN_K, COMMON_K);
  setup.temperature_common_k = declared_common ? COMMON_K : 0.0;
  wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
  setup.q_pickup.value = cavity.q_pickup;
  wave_errors none = {0};
  cavum_coldtest_reading readings[NUM_TEMPERATURES];
  double common_k = gsl_ran_gaussian(rng, COMMON_K);
  for (int i = 0; i < NUM_TEMPERATURES; i++) {
    double temperature_k = 1.5 + 0.075 * i;
    wave_errors errors = coverage_of_reading(&setup, &none, rng);
    cavity.q0 = 270.0 / true_resistance_ohm(temperature_k);
    readings[i] = wave_reading(&setup, &cavity, 0.5, COVERAGE_TWO, &errors);
    readings[i].bath_temperature_k = temperature_k - common_k - gsl_ran_gaussian(rng, OWN_K);
  }
  setup.common_gain_uncertainty = 0.0;
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    setup.channels[i].gain_uncertainty = setup.channels[i].attenuation_uncertainty_db = 0.0;
    setup.channels[i].zero_uncertainty_w = 0.0;
  }
  setup.input_line_uncertainty_db = 0.0;
  setup.geometry_factor_ohm.uncertainty = 0.0;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, NUM_TEMPERATURES);
  cavum_resistance_fit fit;
  cavum_error error = {0};
  ck_assert_msg(cavum_resistance_make_fit(&fit, test, NULL, &error) == CAVUM_OK, "%s",
                error.message);
  count->residual += holds(fit.residual_ohm, TRUE_RESIDUAL_OHM);
  count->gap += holds(fit.gap_k, TRUE_GAP_K);
  count->at_1_8_k += holds(cavum_resistance_at_ohm(&fit, 1.8), true_resistance_ohm(1.8));
  cavum_coldtest_destroy(&test);
}

// Four standard deviations of a count of 400 about 94 to 96 %. A common error declared as one of
// each reading is averaged away: the count is then below
// what the declared one may be, the lower the more readings there are.
START_TEST(a_common_thermometer_is_not_averaged_away) {
  series_count declared = {0}, averaged = {0};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int i = 0; i < NUM_SERIES; i++) draw_series(&declared, rng, true);
  for (int i = 0; i < NUM_SERIES; i++) draw_series(&averaged, rng, false);
  gsl_rng_free(rng);
  printf("R_s at 1.8 K: %d declared as common, %d as one of each reading, of %d\n",
         declared.at_1_8_k, averaged.at_1_8_k, NUM_SERIES);
  const int counts[] = {declared.residual, declared.gap, declared.at_1_8_k};
  for (int i = 0; i < 3; i++) CAVUM_CHECK_NEAR(100.0 * counts[i] / NUM_SERIES, 95.0, 5.4);
  ck_assert(100.0 * averaged.at_1_8_k / NUM_SERIES < 95.0 - 5.4);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, intervals_hold_the_truth_as_often_as_stated, 0, NUM_COVERAGE_CASES);
  tcase_add_test(tests, a_common_thermometer_is_not_averaged_away);
}

CAVUM_TEST_MAIN("coldtest coverage", add_tests)
