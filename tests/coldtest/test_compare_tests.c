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

/** Three readings without errors of a cell of these figures. */
static void take_test(cavum_coldtest_report *report, const cavum_coldtest_setup *setup,
                      double frequency_hz, double bath_k) {
  wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
  wave_errors none = {0};
  cavum_coldtest_reading readings[3];
  cavity.frequency_hz = frequency_hz;
  for (int i = 0; i < 3; i++) {
    readings[i] = wave_reading(setup, &cavity, 0.5 * (i + 1), COVERAGE_TWO | WAVE_DECAY, &none);
    readings[i].bath_temperature_k = bath_k;
  }
  report->file.setup = *setup;
  report->test = scenario_evaluate(setup, readings, 3);
}

/** The caution of two tests, the first of which is at 1300 MHz and 2 K. */
static void caution_of(char caution[CAVUM_COLDTEST_CAUTION_SIZE], const cavum_coldtest_setup *setup,
                       double frequency_hz, double bath_k) {
  cavum_coldtest_report first = {0}, later = {0};
  cavum_coldtest_setup usual = coverage_setup(&COVERAGE_CASES[0]);
  usual.branch = CAVUM_BRANCH_OVER;
  take_test(&first, &usual, 1.3e9, 2.0);
  take_test(&later, setup, frequency_hz, bath_k);
  const cavum_coldtest_report *reports[2] = {&first, &later};
  cavum_coldtest_comparison c = {0};
  ck_assert_int_eq(cavum_coldtest_compare(&c, 2, reports, NULL), CAVUM_OK);
  snprintf(caution, CAVUM_COLDTEST_CAUTION_SIZE, "%s", c.pairs[0].caution);
  printf("caution: %s\n", caution);
  cavum_coldtest_comparison_clear(&c);
  cavum_coldtest_destroy(&first.test);
  cavum_coldtest_destroy(&later.test);
}

// Frequencies of a treated cell stay within some parts in a thousand, its figures within a percent;
// Q0 at 1.8 K and at 2 K differs whatever was done to the cell.
START_TEST(other_baths_and_other_cells_are_told) {
  char caution[CAVUM_COLDTEST_CAUTION_SIZE];
  cavum_coldtest_setup setup = coverage_setup(&COVERAGE_CASES[0]), other;
  setup.branch = CAVUM_BRANCH_OVER;
  caution_of(caution, &setup, 1.302e9, 2.01);
  ck_assert_str_eq(caution, "");
  other = setup;
  other.accelerating_length_m.value *= 1.002;
  caution_of(caution, &other, 1.3e9, 2.0);
  ck_assert_str_eq(caution, "");
  other.accelerating_length_m.value *= 1.1;
  caution_of(caution, &other, 1.3e9, 2.0);
  ck_assert(strstr(caution, "different cells") && strstr(caution, "L_acc 115.3 mm and 127.1 mm"));
  other = setup;
  other.geometry_factor_ohm.value = 100.0;
  caution_of(caution, &other, 1.3e9, 2.0);
  ck_assert(strstr(caution, "different cells") && strstr(caution, "G 270 ohm and 100 ohm"));
  other.geometry_factor_ohm = (cavum_estimate){0};  // not stated
  caution_of(caution, &other, 1.3e9, 2.0);
  ck_assert_str_eq(caution, "");
  caution_of(caution, &setup, 1.1e9, 1.8);
  ck_assert(strstr(caution, "different cells") && strstr(caution, "f 1300 MHz and 1100 MHz"));
  ck_assert(strstr(caution, "2 K and 1.8 K"));
  // Both to their ends, also of numbers with many letters.
  other = setup;
  other.geometry_factor_ohm.value = 1.2345e7;
  caution_of(caution, &other, 1.3e9, 1.2345e-5);
  static const char *const both =
      "the tests are of different cells or modes (G 270 ohm and 1.234e+07 ohm): no change here "
      "is that of a treatment; the tests were taken at other baths, 2 K and 1.234e-05 K: Q0 "
      "differs "
      "by that alone";
  ck_assert_str_eq(caution, both);
  ck_assert_uint_lt(strlen(both) + 40, CAVUM_COLDTEST_CAUTION_SIZE);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, intervals_hold_the_truth_as_often_as_stated, 0, 2);
  tcase_add_test(tests, one_name_has_one_calibration);
  tcase_add_test(tests, other_baths_and_other_cells_are_told);
}

CAVUM_TEST_MAIN("comparison of tests", add_tests)
