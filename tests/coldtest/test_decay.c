// SPDX-License-Identifier: GPL-3.0-or-later
// Decay traces: an exponential, a decay whose Q0 depends on the field with its closed form, and the
// coverage of the error bars over many noise draws.
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_series.h"
#include "coldtest/parabola.h"
#include "scenario.h"

static const double OMEGA = 2.0 * CAVUM_PI * 1.3e9;

/** 1/Q0 = (1 + slope U)/q00: wall losses that rise with the stored energy, E_acc^2. */
typedef struct lossy_cavity {
  double q00, slope_per_j, q_external, q_pickup, start_j;
} lossy_cavity;

static const lossy_cavity CAVITY = {2e10, 0.03, 2e10, 2e12, 12.0};

static double q0_at(const lossy_cavity *c, double energy_j) {
  return c->q00 / (1.0 + c->slope_per_j * energy_j);
}

// dU/dt = -w U (kappa + mu U), a Bernoulli equation:
// U = kappa U0 e / (kappa + mu U0 (1 - e)), e = exp(-w kappa t).
static double energy_at(const lossy_cavity *c, double time_s) {
  double kappa = 1.0 / c->q00 + 1.0 / c->q_external + 1.0 / c->q_pickup;
  double mu = c->slope_per_j / c->q00, decayed = exp(-OMEGA * kappa * time_s);
  return kappa * c->start_j * decayed / (kappa + mu * c->start_j * (1.0 - decayed));
}

enum { NUM_SAMPLES = 600 };

/** A trace of 2.4 s, noiseless unless rng is given. */
static cavum_decay_trace make_trace(const lossy_cavity *c, gsl_rng *rng, double noise,
                                    double floor_w) {
  cavum_decay_trace trace = {.num_samples = NUM_SAMPLES, .file = "trace"};
  trace.time_s = malloc(NUM_SAMPLES * sizeof(double));
  trace.transmitted_w = malloc(NUM_SAMPLES * sizeof(double));
  for (int i = 0; i < NUM_SAMPLES; i++) {
    trace.time_s[i] = 0.004 * i;
    double power_w = OMEGA * energy_at(c, trace.time_s[i]) / c->q_pickup;
    if (rng) power_w *= 1.0 + gsl_ran_gaussian(rng, noise);
    if (rng) power_w += gsl_ran_gaussian(rng, floor_w);
    trace.transmitted_w[i] = power_w;
  }
  return trace;
}

/** A test whose Q_t and Q_e are stated, with no uncertainty of their own. */
static cavum_coldtest *make_test(cavum_coldtest_setup setup) {
  setup.q_pickup.value = CAVITY.q_pickup;
  setup.q_external.value = CAVITY.q_external;
  cavum_coldtest_reading reading = scenario_reading(4.0, 0.6, 0.02, NAN);
  return scenario_evaluate(&setup, &reading, 1);
}

static cavum_decay_analysis analyse(const cavum_coldtest *test, const cavum_decay_trace *trace,
                                    const cavum_decay_options *options) {
  cavum_decay_analysis analysis;
  cavum_error error = {0};
  cavum_status status = cavum_decay_analyse(&analysis, test, trace, 1.3e9, options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return analysis;
}

// The local parabola is exact for an exponential: what is left is rounding of the logarithms,
// multiplied by samples over window.
START_TEST(exponential_decay_has_one_decay_time) {
  lossy_cavity plain = CAVITY;
  plain.slope_per_j = 0.0;
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_trace trace = make_trace(&plain, NULL, 0.0, 0.0);
  cavum_decay_analysis analysis = analyse(test, &trace, NULL);
  double kappa = 1.0 / plain.q00 + 1.0 / plain.q_external + 1.0 / plain.q_pickup;
  CAVUM_CHECK_RELATIVE(analysis.decay_time_s.value, 1.0 / (OMEGA * kappa), 1e-12);
  ck_assert(analysis.exponential);
  ck_assert_int_eq(analysis.num_points, 16);
  for (int i = 0; i < analysis.num_points; i++) {
    double energy_j = energy_at(&plain, analysis.points[i].time_s);
    CAVUM_CHECK_RELATIVE(analysis.points[i].q0, 2e10, 1e-10);
    CAVUM_CHECK_RELATIVE(analysis.points[i].e_acc_v_per_m, sqrt(105.0 * OMEGA * energy_j) / 0.1153,
                         1e-12);
  }
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Noiseless, the error of a window is the third derivative of ln P: with 37 samples (0.15 s) it is
// (w mu U)(...)^2 h^2/10 or so, some 1e-4 of 1/Q_L at the steepest place.
START_TEST(field_dependent_q0_follows_the_closed_form) {
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  cavum_decay_analysis analysis = analyse(test, &trace, NULL);
  ck_assert(!analysis.exponential);
  for (int i = 0; i < analysis.num_points; i++) {
    double energy_j = energy_at(&CAVITY, analysis.points[i].time_s);
    CAVUM_CHECK_RELATIVE(analysis.points[i].q0, q0_at(&CAVITY, energy_j), 3e-4);
  }
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Q0 that falls to a seventh: in wide windows ln P is no parabola, whose slope is up to 2 % of Q0
// off. With losses that rise with the energy the fit has the law of this decay; what is left is
// that the integral of the power is that of the parabola: of second order in those 2 %, below 1e-3.
START_TEST(wide_windows_follow_a_steep_fall_of_q0) {
  lossy_cavity steep = CAVITY;
  steep.slope_per_j = 0.5;
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_trace trace = make_trace(&steep, NULL, 0.0, 0.0);
  cavum_decay_options options = cavum_decay_options_default();
  options.noise = 1e-4;
  options.num_windows = 8;
  cavum_decay_analysis analysis = analyse(test, &trace, &options);
  for (int i = 0; i < analysis.num_points; i++) {
    double truth = q0_at(&steep, energy_at(&steep, analysis.points[i].time_s));
    CAVUM_CHECK_RELATIVE(analysis.points[i].q0, truth, 1e-3);
    ck_assert_double_lt(fabs(analysis.points[i].q0 - truth), analysis.points[i].q0_uncertainty);
  }
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

enum { NUM_DRAWS = 2000, NUM_WINDOWS = 8 };

/** How many of NUM_DRAWS intervals of each window hold the true Q0, and the true E_acc. */
static void count_covered(int q0_covered[NUM_WINDOWS], const cavum_decay_options *options,
                          double noise, double floor_w) {
  cavum_coldtest *test = make_test(scenario_setup());
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  gsl_rng_set(rng, 4711);
  for (int window = 0; window < NUM_WINDOWS; window++) q0_covered[window] = 0;
  for (int draw = 0; draw < NUM_DRAWS; draw++) {
    cavum_decay_trace trace = make_trace(&CAVITY, rng, noise, floor_w);
    cavum_decay_analysis analysis = analyse(test, &trace, options);
    ck_assert_int_eq(analysis.num_points, NUM_WINDOWS);
    for (int window = 0; window < NUM_WINDOWS; window++) {
      const cavum_decay_point *point = &analysis.points[window];
      double truth = q0_at(&CAVITY, energy_at(&CAVITY, point->time_s));
      double half = point->coverage_factor * point->q0_uncertainty;
      q0_covered[window] += fabs(point->q0 - truth) <= half;
    }
    cavum_decay_analysis_clear(&analysis);
    cavum_decay_trace_clear(&trace);
  }
  gsl_rng_free(rng);
  cavum_coldtest_destroy(&test);
}

// Stated coverage 95 %: of 2,000 draws 1,860 to 1,940 must be inside (four standard deviations of
// the count, 9.7). Every window alone must pass, with stated noise and with noise from residuals.
static void check_coverage(const cavum_decay_options *options, double noise, double floor_w) {
  int covered[NUM_WINDOWS];
  count_covered(covered, options, noise, floor_w);
  for (int window = 0; window < NUM_WINDOWS; window++) {
    CAVUM_CHECK_NEAR(100.0 * covered[window] / NUM_DRAWS, 95.0, 2.0);
  }
}

START_TEST(coverage_with_stated_noise) {
  cavum_decay_options options = cavum_decay_options_default();
  options.noise = 0.01;
  options.num_windows = NUM_WINDOWS;
  check_coverage(&options, 0.01, 0.0);
}
END_TEST

START_TEST(coverage_with_noise_from_residuals) {
  cavum_decay_options options = cavum_decay_options_default();
  options.num_windows = NUM_WINDOWS;
  check_coverage(&options, 0.01, 0.0);
}
END_TEST

START_TEST(coverage_with_a_noise_floor) {
  cavum_decay_options options = cavum_decay_options_default();
  options.noise = 0.005;
  options.floor_w = 2e-5;
  options.num_windows = NUM_WINDOWS;
  check_coverage(&options, 0.005, 2e-5);
}
END_TEST

// Q_t and Q_e uncertain: their share of Q0's uncertainty in closed form, (Q0/Q_e) u(Q_e) relative,
// and R/Q, L and Q_t in E_acc. The pickup's gain is in P_t and, inverted, in a measured Q_t.
START_TEST(couplings_enter_the_uncertainty) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.q_external.uncertainty = 0.02 * CAVITY.q_external;
  setup.q_pickup.uncertainty = 0.05 * CAVITY.q_pickup;
  cavum_coldtest *test = make_test(setup);
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  cavum_decay_analysis analysis = analyse(test, &trace, NULL);
  const cavum_decay_point *point = &analysis.points[analysis.num_points - 1];
  double by_external = point->q0 / CAVITY.q_external * 0.02;
  double by_pickup = point->q0 / CAVITY.q_pickup * 0.05;
  CAVUM_CHECK_RELATIVE(point->q0_uncertainty / point->q0, hypot(by_external, by_pickup), 1e-4);
  CAVUM_CHECK_RELATIVE(point->e_acc_uncertainty_v_per_m / point->e_acc_v_per_m, 0.025, 1e-4);
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// P = P' 10^(dB / 10): an attenuation known to 0.2 dB gives P_t to 0.2 ln(10) / 10, and E_acc,
// which goes as its root, to half of that. The slope of ln P_t does not change with a factor.
START_TEST(cable_of_the_pickup_is_known_to_decibels) {
  cavum_coldtest_setup setup = scenario_setup();
  int chain = setup.channels[CAVUM_CHANNEL_TRANSMITTED].chain;
  setup.channels[chain].attenuation_uncertainty_db = 0.2;
  cavum_coldtest *test = make_test(setup);
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  cavum_decay_options options = cavum_decay_options_default();
  options.noise = 1e-9;
  cavum_decay_analysis analysis = analyse(test, &trace, &options);
  for (int i = 0; i < analysis.num_points; i++) {
    const cavum_decay_point *point = &analysis.points[i];
    CAVUM_CHECK_RELATIVE(point->e_acc_uncertainty_v_per_m / point->e_acc_v_per_m,
                         0.5 * 0.2 * log(10.0) / 10.0, 1e-12);
    CAVUM_CHECK_RELATIVE(point->q0_uncertainty, point->q0_statistical, 1e-12);
  }
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Welch-Satterthwaite [JCGM100] G.2b: u^4 / nu = sum u_i^4 / nu_i. The noise of a window of 12
// samples is known from their scatter about a parabola, to nu_i = 9; the rest of the uncertainty,
// of Q_e (closed form as above), is taken for known. 1e-12: rounding.
START_TEST(a_known_part_adds_degrees_of_freedom) {
  cavum_decay_options options = cavum_decay_options_default();
  options.num_windows = NUM_SAMPLES / 12;
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  cavum_decay_trace trace = make_trace(&CAVITY, rng, 0.003, 0.0);
  cavum_coldtest_setup setup = scenario_setup();
  setup.coverage = 0.95;
  cavum_coldtest *plain = make_test(setup);
  setup.q_external.uncertainty = 0.1 * CAVITY.q_external;
  cavum_coldtest *test = make_test(setup);
  cavum_decay_analysis noise = analyse(plain, &trace, &options);
  cavum_decay_analysis both = analyse(test, &trace, &options);
  int num_between = 0;
  for (int i = 0; i < both.num_points; i++) {
    const cavum_decay_point *point = &both.points[i];
    if (!(point->q0 > 0.0)) continue;
    ck_assert_int_eq((int)point->num_samples, 12);
    CAVUM_CHECK_RELATIVE(noise.points[i].degrees_of_freedom, 9.0, 1e-12);
    double by_noise = noise.points[i].q0_uncertainty;
    double by_external = point->q0 * point->q0 / CAVITY.q_external * 0.1;
    double square = 1.0 + by_external * by_external / (by_noise * by_noise);
    double freedom = 9.0 * square * square;
    CAVUM_CHECK_RELATIVE(point->degrees_of_freedom, freedom, 1e-12);
    CAVUM_CHECK_RELATIVE(point->coverage_factor, gsl_cdf_tdist_Pinv(0.975, freedom), 1e-12);
    num_between += freedom > 12.0 && freedom < 1e4;
  }
  ck_assert_int_gt(num_between, 10);
  cavum_decay_analysis_clear(&noise);
  cavum_decay_analysis_clear(&both);
  cavum_decay_trace_clear(&trace);
  gsl_rng_free(rng);
  cavum_coldtest_destroy(&plain);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(bad_traces_are_refused) {
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_analysis analysis = {.num_used = -1};
  cavum_error error = {0};
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  trace.time_s[5] = trace.time_s[4];
  ck_assert_int_eq(cavum_decay_analyse(&analysis, test, &trace, 1.3e9, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "sample 6"));
  cavum_decay_trace_clear(&trace);
  trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  for (int i = 0; i < NUM_SAMPLES; i++) trace.transmitted_w[i] = exp(1e-3 * i);
  ck_assert_int_eq(cavum_decay_analyse(&analysis, test, &trace, 1.3e9, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_ptr_nonnull(strstr(error.message, "not fall"));
  cavum_decay_options options = {.struct_size = sizeof options, .floor_w = 1.0};
  ck_assert_int_eq(cavum_decay_analyse(&analysis, test, &trace, 1.3e9, &options, &error),
                   CAVUM_ERR_INPUT);
  trace.num_samples = 0;
  ck_assert_int_eq(cavum_decay_analyse(&analysis, test, &trace, 1.3e9, NULL, &error),
                   CAVUM_ERR_INPUT);
  ck_assert_int_eq(analysis.num_used, -1);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// Negative samples at the end are the noise floor: cut and counted.
START_TEST(samples_in_the_floor_are_cut) {
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  for (int i = 500; i < NUM_SAMPLES; i++) trace.transmitted_w[i] = i % 2 ? -1e-9 : 1e-9;
  cavum_decay_options options = {.struct_size = sizeof options, .floor_w = 1e-8};
  cavum_decay_analysis analysis = analyse(test, &trace, &options);
  ck_assert_int_eq(analysis.num_used, 500);
  ck_assert_int_eq(analysis.num_cut, 100);
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// One negative sample early in a trace is a fault of that sample: the others stay.
START_TEST(a_single_bad_sample_leaves_the_others) {
  cavum_coldtest *test = make_test(scenario_setup());
  cavum_decay_trace trace = make_trace(&CAVITY, NULL, 0.0, 0.0);
  trace.transmitted_w[30] = -1e-6;
  trace.transmitted_w[200] = 1e-12;
  cavum_decay_options options = {.struct_size = sizeof options, .floor_w = 1e-8};
  cavum_decay_analysis analysis = analyse(test, &trace, &options);
  ck_assert_int_eq(analysis.num_used, NUM_SAMPLES - 2);
  ck_assert_int_eq(analysis.num_outliers, 2);
  ck_assert_int_eq(analysis.num_cut, 0);
  for (int i = 0; i < analysis.num_points; i++) {
    double energy_j = energy_at(&CAVITY, analysis.points[i].time_s);
    CAVUM_CHECK_RELATIVE(analysis.points[i].q0, q0_at(&CAVITY, energy_j), 3e-4);
  }
  cavum_decay_analysis_clear(&analysis);
  cavum_decay_trace_clear(&trace);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A disturbance ten times as high, one half as high, in noise and in none; a sudden loss is no such
// sample. Without these two, Q0 is that of the others: within four standard uncertainties with
// noise.
START_TEST(samples_that_stand_alone_leave_the_others) {
  enum { HIGH = 100, LOW = 420, LOSS = 300 };
  cavum_coldtest *test = make_test(scenario_setup());
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  for (int noisy = 0; noisy < 2; noisy++) {
    cavum_decay_trace trace = make_trace(&CAVITY, noisy ? rng : NULL, 0.01, 0.0);
    trace.transmitted_w[HIGH] *= 10.0;
    trace.transmitted_w[LOW] *= 0.5;
    cavum_decay_analysis analysis = analyse(test, &trace, NULL);
    ck_assert_int_eq(analysis.num_outliers, 2);
    ck_assert_int_eq(analysis.num_used, NUM_SAMPLES - 2);
    for (int i = 0; i < analysis.num_points; i++) {
      const cavum_decay_point *point = &analysis.points[i];
      double truth = q0_at(&CAVITY, energy_at(&CAVITY, point->time_s));
      double tolerance = noisy ? 4.0 * point->q0_uncertainty / truth : 3e-4;
      CAVUM_CHECK_RELATIVE(point->q0, truth, tolerance);
    }
    cavum_decay_analysis_clear(&analysis);
    cavum_decay_trace_clear(&trace);
    trace = make_trace(&CAVITY, noisy ? rng : NULL, 0.01, 0.0);
    for (int i = LOSS; i < NUM_SAMPLES; i++) trace.transmitted_w[i] *= 0.3;
    analysis = analyse(test, &trace, NULL);
    ck_assert_int_eq(analysis.num_outliers, 0);
    cavum_decay_analysis_clear(&analysis);
    cavum_decay_trace_clear(&trace);
  }
  gsl_rng_free(rng);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A parabola is reproduced with its coefficients; covariance of a mean of n unit weights is 1/n.
START_TEST(parabola_is_exact) {
  double x[50], y[50];
  for (int i = 0; i < 50; i++) {
    x[i] = 3.0 + 0.1 * i;
    y[i] = 2.0 - 0.7 * x[i] + 0.25 * x[i] * x[i];
  }
  cavum_parabola fit;
  ck_assert(cavum_parabola_fit(&fit, x, y, NULL, 50, 3));
  for (int i = 0; i < 50; i++) CAVUM_CHECK_NEAR(cavum_parabola_value(&fit, x[i]), y[i], 1e-12);
  ck_assert(cavum_parabola_fit(&fit, x, y, NULL, 50, 2));
  CAVUM_CHECK_NEAR(fit.covariance[0][0], 1.0 / 50.0, 1e-15);
  for (int i = 0; i < 50; i++) x[i] = 1.0;
  ck_assert(!cavum_parabola_fit(&fit, x, y, NULL, 50, 2));
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, exponential_decay_has_one_decay_time);
  tcase_add_test(tests, field_dependent_q0_follows_the_closed_form);
  tcase_add_test(tests, wide_windows_follow_a_steep_fall_of_q0);
  tcase_add_test(tests, coverage_with_stated_noise);
  tcase_add_test(tests, coverage_with_noise_from_residuals);
  tcase_add_test(tests, coverage_with_a_noise_floor);
  tcase_add_test(tests, couplings_enter_the_uncertainty);
  tcase_add_test(tests, cable_of_the_pickup_is_known_to_decibels);
  tcase_add_test(tests, a_known_part_adds_degrees_of_freedom);
  tcase_add_test(tests, bad_traces_are_refused);
  tcase_add_test(tests, samples_in_the_floor_are_cut);
  tcase_add_test(tests, a_single_bad_sample_leaves_the_others);
  tcase_add_test(tests, samples_that_stand_alone_leave_the_others);
  tcase_add_test(tests, parabola_is_exact);
}

CAVUM_TEST_MAIN("coldtest decay", add_tests)
