// SPDX-License-Identifier: GPL-3.0-or-later
// Two tests of one cell with one calibration: what they share cancels in ratios and differences and
// in nothing else. Coverage with every stated error drawn anew.
#include "cavum/coldtest_compare.h"
#include "coverage.h"

enum { NUM_READINGS = 10, NUM_DRAWS = 1000 };
#define TOP 20e6

/** Loss of the walls of the first and of the second test. */
static double loss(int test, double e) {
  double x = e / TOP;
  return (test == 0 ? 1.0 + 0.3 * x * x : 0.8 + 0.2 * x * x) / 2e10;
}

/** Two tests of one cell. */
typedef struct pair_of_tests {
  cavum_coldtest_report report[2];
  double true_resistance[2], true_slope[2];  // R_0 and a of R_0 + a E^2.
  double true_highest;
} pair_of_tests;

static void draw(pair_of_tests *out, gsl_rng *rng, bool shared) {
  cavum_coldtest_setup setup = coverage_setup(&COVERAGE_CASES[0]);
  setup.branch = CAVUM_BRANCH_OVER;
  memset(out, 0, sizeof *out);
  coverage_figures f = {coverage_true(setup.r_over_q_linac_ohm, rng),
                        coverage_true(setup.accelerating_length_m, rng),
                        coverage_true(setup.geometry_factor_ohm, rng), 2.0, 4e-9};
  wave_errors common = coverage_shared(&setup, rng);
  for (int t = 0; t < 2; t++) {
    wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
    cavum_coldtest_reading readings[NUM_READINGS];
    if (t == 1 && !shared) {
      common = coverage_shared(&setup, rng);
      f.r_over_q_ohm = coverage_true(setup.r_over_q_linac_ohm, rng);
      f.length_m = coverage_true(setup.accelerating_length_m, rng);
      f.factor_ohm = coverage_true(setup.geometry_factor_ohm, rng);
    }
    cavity.q_external = 5e9;
    setup.q_pickup.value = cavity.q_pickup;
    setup.q_pickup.uncertainty = 0.01 * cavity.q_pickup;
    cavity.q_pickup = coverage_true(setup.q_pickup, rng);
    for (int i = 0; i < NUM_READINGS; i++) {
      double e = TOP * (0.1 + 0.9 * i / (NUM_READINGS - 1.0)), v = e * f.length_m;
      wave_errors errors = coverage_of_reading(&setup, &common, rng);
      cavity.q0 = 1.0 / loss(t, e);
      double energy_j = v * v / (f.r_over_q_ohm * wave_omega(&cavity));
      readings[i] = wave_reading(&setup, &cavity, energy_j, COVERAGE_TWO, &errors);
    }
    cavum_coldtest_report *report = &out->report[t];
    report->file.setup = setup;
    report->test = scenario_evaluate(&setup, readings, NUM_READINGS);
    snprintf(report->file.shared_calibration, 64, "%s", shared ? "chain of spring" : "");
    snprintf(report->file.shared_shape, 64, "%s", shared ? "cell 7" : "");
    out->true_resistance[t] = f.factor_ohm * loss(t, 0.0);
    out->true_slope[t] = f.factor_ohm * (loss(t, TOP) - loss(t, 0.0)) / (TOP * TOP);
  }
}

static bool holds(cavum_estimate estimate, double truth) {
  return fabs(estimate.value - truth) <= 1.959964 * estimate.uncertainty;
}

enum { RATIO, RESISTANCE, SLOPE, HIGHEST, NUM_WATCHED };

// 94 to 96 % and four standard deviations of a count. With shared errors known as shared, the ratio
// is known better than without, and each test by itself has not become better.
static void run_draws(int held[NUM_WATCHED], double *ratio_u, double *absolute_u, bool shared) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int i = 0; i < NUM_DRAWS; i++) {
    pair_of_tests tests;
    draw(&tests, rng, shared);
    const cavum_coldtest_report *reports[2] = {&tests.report[0], &tests.report[1]};
    cavum_coldtest_comparison c = {0};
    ck_assert_int_eq(cavum_coldtest_compare(&c, 2, reports, NULL), CAVUM_OK);
    ck_assert_uint_eq(c.struct_size, sizeof c);
    const cavum_coldtest_pair *pair = &c.pairs[0];
    ck_assert(pair->num_ratios >= NUM_READINGS - 3);
    const cavum_coldtest_ratio *r = &pair->ratios[pair->num_ratios / 2];
    // Interpolation of ln Q0 over 2 MV/m: 1e-4 by its curvature. The gradient of this reading.
    double e = TOP * (0.1 + 0.9 * (double)r->point / (NUM_READINGS - 1.0));
    held[RATIO] += holds(r->q0_ratio, loss(0, e) / loss(1, e));
    held[RESISTANCE] += holds(pair->changes[CAVUM_CHANGE_LOW_FIELD].change,
                              tests.true_resistance[1] - tests.true_resistance[0]);
    held[SLOPE] +=
        holds(pair->changes[CAVUM_CHANGE_SLOPE].change, tests.true_slope[1] - tests.true_slope[0]);
    held[HIGHEST] += holds(pair->changes[CAVUM_CHANGE_HIGHEST].change, 0.0);
    *ratio_u = r->q0_ratio.uncertainty / r->q0_ratio.value;
    const cavum_coldtest_point *point = cavum_coldtest_get_point(reports[0]->test, 5);
    *absolute_u = point->uncertainty[CAVUM_QUANTITY_Q0] / point->value[CAVUM_QUANTITY_Q0];
    cavum_coldtest_comparison_clear(&c);
    for (int t = 0; t < 2; t++) cavum_coldtest_destroy(&tests.report[t].test);
  }
  gsl_rng_free(rng);
}

START_TEST(intervals_hold_the_truth_as_often_as_stated) {
  static const char *const names[NUM_WATCHED] = {"ratio", "R_0", "slope", "highest"};
  int held[NUM_WATCHED] = {0};
  double ratio_u, absolute_u;
  run_draws(held, &ratio_u, &absolute_u, _i == 0);
  const double low = 0.94 - 4.0 * sqrt(0.94 * 0.06 / NUM_DRAWS);
  const double high = 0.96 + 4.0 * sqrt(0.96 * 0.04 / NUM_DRAWS);
  for (int k = 0; k < NUM_WATCHED; k++) {
    double part = (double)held[k] / NUM_DRAWS;
    printf("%s, %s: %.2f %% (%.2f to %.2f)\n", _i == 0 ? "shared" : "apart", names[k], 100.0 * part,
           100.0 * low, 100.0 * high);
    ck_assert(part > low && part < high);
  }
  printf("u of the ratio %.3f %%, of one Q0 %.3f %%\n", 100.0 * ratio_u, 100.0 * absolute_u);
  ck_assert(_i == 0 ? ratio_u < absolute_u : ratio_u > 1.2 * absolute_u);
}
END_TEST

// Both share, and say it, but the numbers differ: one of the two is wrong.
START_TEST(one_name_has_one_calibration) {
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  pair_of_tests tests;
  draw(&tests, rng, true);
  gsl_rng_free(rng);
  const cavum_coldtest_report *reports[2] = {&tests.report[0], &tests.report[1]};
  cavum_coldtest_comparison c = {.num_pairs = 7};  // stays as it is when nothing is compared
  cavum_error error = {0};
  tests.report[1].file.setup.channels[0].attenuation_db += 0.1;
  ck_assert_int_eq(cavum_coldtest_compare(&c, 2, reports, &error), CAVUM_ERR_INPUT);
  ck_assert(strstr(error.message, "chain of spring") != NULL);
  ck_assert_int_eq(cavum_coldtest_compare(&c, 1, reports, &error), CAVUM_ERR_INPUT);
  ck_assert_int_eq(c.num_pairs, 7);
  for (int t = 0; t < 2; t++) cavum_coldtest_destroy(&tests.report[t].test);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, intervals_hold_the_truth_as_often_as_stated, 0, 2);
  tcase_add_test(tests, one_name_has_one_calibration);
}

CAVUM_TEST_MAIN("comparison of tests", add_tests)
