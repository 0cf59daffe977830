// SPDX-License-Identifier: GPL-3.0-or-later
// R_s(T) where readings of the series are near critical coupling, so that nothing decides their
// branch: how often do the intervals of the fit hold the truth? Decays at one Q_e whose Q0 passes
// it while the bath is pumped, every stated error drawn anew through wave_model.h.
#include "coverage.h"

enum { MOST = 12, NUM_DRAWS = 300, NUM_RESULTS = 4 };
static const double TRUE_GAP_K = 17.67, OWN_K = 1e-3;

/** A series: bath temperatures, the residual, and at which bath the coupling is critical. */
typedef struct series_case {
  const char *name;
  int count, what;
  double temperature_k[MOST], residual_ohm, critical_k, noise, emitted_db;
} series_case;

static const series_case CASES[] = {
    {"one row is critical",
     9,
     COVERAGE_TWO,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.875, 1.95, 2.025, 2.1},
     4e-9,
     1.8,
     1.0,
     0.0},
    {"two rows beside critical",
     9,
     COVERAGE_TWO,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.875, 1.95, 2.025, 2.1},
     4e-9,
     1.838,
     10.0,
     0.0},
    {"the warmest row is critical",
     9,
     COVERAGE_TWO,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.875, 1.95, 2.025, 2.1},
     4e-9,
     2.1,
     3.0,
     0.0},
    {"three decays at one critical bath",
     11,
     COVERAGE_TWO,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.8, 1.8, 1.875, 1.95, 2.025, 2.1},
     4e-9,
     1.8,
     10.0,
     0.0},
    {"large residual: many rows near critical",
     9,
     COVERAGE_TWO,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.875, 1.95, 2.025, 2.1},
     3e-8,
     1.8,
     10.0,
     0.0},
    {"emitted power through an uncertain chain",
     9,
     COVERAGE_ALL,
     {1.5, 1.575, 1.65, 1.725, 1.8, 1.875, 1.95, 2.025, 2.1},
     3e-8,
     1.8,
     10.0,
     0.3},
};
enum { NUM_CASES = sizeof CASES / sizeof *CASES };

static double bcs_ohm(double temperature_k) {
  return 1.4e-4 / temperature_k * exp(-TRUE_GAP_K / temperature_k);
}

/** What is counted of a case. */
typedef struct tally_of_case {
  int draws, refused, with_open_rows, held[NUM_RESULTS];
} tally_of_case;

static const char *const NAMES[NUM_RESULTS] = {"residual", "gap", "R_s at 1.8 K", "BCS at 2 K"};

static bool holds(cavum_estimate estimate, double truth) {
  return fabs(estimate.value - truth) <= 1.959964 * estimate.uncertainty;
}

static int make_readings(cavum_coldtest_reading out[MOST], const cavum_coldtest_setup *setup,
                         const series_case *c, double factor_ohm, gsl_rng *rng) {
  wave_cavity cavity = coverage_cavity(&COVERAGE_CASES[0]);
  wave_errors shared = coverage_shared(setup, rng);
  double critical_q0 = factor_ohm / (bcs_ohm(c->critical_k) + c->residual_ohm);
  cavity.q_pickup = 200.0 * critical_q0;
  cavity.q_external = 1.0 / (1.0 / critical_q0 + 1.0 / cavity.q_pickup);
  for (int i = 0; i < c->count; i++) {
    wave_errors errors = coverage_of_reading(setup, &shared, rng);
    double bath_k = c->temperature_k[i];
    cavity.q0 = factor_ohm / (bcs_ohm(bath_k) + c->residual_ohm);
    out[i] = wave_reading(setup, &cavity, 0.5, c->what | WAVE_DECAY, &errors);
    out[i].bath_temperature_k = bath_k + gsl_ran_gaussian(rng, OWN_K);
  }
  return c->count;
}

static void draw(tally_of_case *t, const series_case *c, gsl_rng *rng) {
  coverage_case base = COVERAGE_CASES[0];
  base.noise = c->noise;
  base.own_meter = c->emitted_db > 0.0;
  base.emitted_db = c->emitted_db;
  cavum_coldtest_setup setup = coverage_setup(&base);
  setup.temperature_uncertainty_k = OWN_K;
  cavum_coldtest_reading readings[MOST];
  double factor_ohm = coverage_true(setup.geometry_factor_ohm, rng);
  cavum_coldtest_readings all = {
      .num_readings = make_readings(readings, &setup, c, factor_ohm, rng),
      .items = readings,
      .file = "readings"};
  cavum_coldtest *test = NULL;
  cavum_resistance_fit fit;
  if (cavum_coldtest_evaluate(&test, &setup, &all, NULL) != CAVUM_OK ||
      cavum_resistance_make_fit(&fit, test, NULL, NULL) != CAVUM_OK) {
    t->refused++;
    cavum_coldtest_destroy(&test);
    return;
  }
  const cavum_estimate found[NUM_RESULTS] = {fit.residual_ohm, fit.gap_k,
                                             cavum_resistance_at_ohm(&fit, 1.8),
                                             cavum_resistance_bcs_at_ohm(&fit, 2.0)};
  const double truth[NUM_RESULTS] = {c->residual_ohm, TRUE_GAP_K, bcs_ohm(1.8) + c->residual_ohm,
                                     bcs_ohm(2.0)};
  bool open = false;
  for (int64_t i = 0; i < cavum_coldtest_num_points(test); i++) {
    uint32_t flags = cavum_coldtest_get_point(test, i)->flags;
    open = open || (flags & (1u << CAVUM_FLAG_INDEX_BRANCH_AMBIGUOUS));
  }
  t->draws++;
  t->with_open_rows += open;
  for (int i = 0; i < NUM_RESULTS; i++) t->held[i] += holds(found[i], truth[i]);
  cavum_coldtest_destroy(&test);
}

// 94 to 96 %, and four standard deviations of a count, as in coverage_judge().
START_TEST(a_fit_with_open_rows_holds_the_truth) {
  const series_case *c = &CASES[_i];
  tally_of_case t = {0};
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 31u + (unsigned)_i);
  for (int i = 0; i < NUM_DRAWS; i++) draw(&t, c, rng);
  gsl_rng_free(rng);
  printf("%s: %d refused of %d, a row is open in %d\n", c->name, t.refused, NUM_DRAWS,
         t.with_open_rows);
  ck_assert_int_eq(t.refused, 0);
  ck_assert_int_ge(t.with_open_rows, NUM_DRAWS / 10);
  for (int i = 0; i < NUM_RESULTS; i++) {
    printf("%s: ", NAMES[i]);
    CAVUM_CHECK_NEAR(100.0 * t.held[i] / t.draws, 95.0,
                     1.0 + 400.0 * sqrt(0.95 * 0.05 / (double)t.draws));
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_loop_test(tests, a_fit_with_open_rows_holds_the_truth, 0, NUM_CASES);
}

CAVUM_TEST_MAIN("coldtest open rows", add_tests)
