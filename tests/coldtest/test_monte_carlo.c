// SPDX-License-Identifier: GPL-3.0-or-later
// Monte Carlo propagation against the linear one, against distributions in closed form and by
// quadrature (GSL), against a full sort. A tolerance on a sampled number is four to five of its
// standard deviations; seeds are fixed.
#include <gsl/gsl_cdf.h>
#include <gsl/gsl_integration.h>
#include <string.h>

#include "base/base.h"
#include "coldtest/sample.h"
#include "scenario.h"

/** 97.5 % point of the standard normal distribution (closed form, tables). */
static const double NORMAL_975 = 1.959963984540054;

static cavum_coldtest_monte_carlo propagate(const cavum_coldtest *test, int64_t index,
                                            int64_t num_draws) {
  cavum_coldtest_monte_carlo outcome;
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_run_monte_carlo(&outcome, test, index, num_draws, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return outcome;
}

static cavum_coldtest *round_numbers(cavum_coldtest_setup *setup) {
  setup->branch = CAVUM_BRANCH_OVER;
  cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 0.05, 0.8);
  return scenario_evaluate(setup, &reading, 1);
}

// The same distributions without draws. For given powers, Q0 = w tau (1 + beta*) (P_f - P_r) /
// P_wall and E_acc^2 = (R/Q) w tau (1 + beta*) (P_f - P_r) / L^2 are linear in tau, which is
// normal: their distribution functions are means of normal ones over the powers, by Gauss-Hermite
// rules of GSL.
enum { HERMITE = 12 };
static const double POWER_NOISE = 0.04, DECAY_NOISE = 0.03;

typedef struct round_distribution {
  double weight[HERMITE * HERMITE * HERMITE];
  double per_tau[CAVUM_NUM_MC][HERMITE * HERMITE * HERMITE]; /**< Q0 / tau; E_acc^2 / tau. */
  double root_mean;                                          /**< Mean of sqrt(tau / 0.8 s). */
} round_distribution;

static void fill_round_point(round_distribution *d, int i, const double power_w[3]) {
  const double w = 2.0 * CAVUM_PI * 1.3e9;
  double reflection = sqrt(power_w[1] / power_w[0]), walls_w = power_w[0] - power_w[1] - power_w[2];
  double coupling = (1.0 + reflection) / (1.0 - reflection);  // overcoupled
  double energy_per_tau = (1.0 + coupling) * (power_w[0] - power_w[1]);
  d->per_tau[CAVUM_MC_Q0][i] = w * energy_per_tau / walls_w;
  d->per_tau[CAVUM_MC_E_ACC][i] = 105.0 * w * energy_per_tau / (0.1153 * 0.1153);
}

static void fill_round_distribution(round_distribution *d) {
  gsl_integration_fixed_workspace *rule =
      gsl_integration_fixed_alloc(gsl_integration_fixed_hermite, HERMITE, 0.0, 0.5, 0.0, 0.0);
  const double *x = gsl_integration_fixed_nodes(rule), *w = gsl_integration_fixed_weights(rule);
  const double part = 1.0 / sqrt(2.0 * CAVUM_PI);
  d->root_mean = 0.0;
  for (int i = 0; i < HERMITE; i++) d->root_mean += part * w[i] * sqrt(1.0 + DECAY_NOISE * x[i]);
  for (int n = 0; n < HERMITE * HERMITE * HERMITE; n++) {
    int i = n % HERMITE, j = n / HERMITE % HERMITE, k = n / (HERMITE * HERMITE);
    const double power_w[3] = {10.0 * (1.0 + POWER_NOISE * x[i]), 1.0 + POWER_NOISE * x[j],
                               0.05 * (1.0 + POWER_NOISE * x[k])};
    d->weight[n] = pow(part, 3) * w[i] * w[j] * w[k];
    fill_round_point(d, n, power_w);
  }
  gsl_integration_fixed_free(rule);
}

/** Probability of less than a value of Q0, or of less than a value of E_acc^2. */
static double round_probability(const round_distribution *d, int result, double value) {
  double sum = 0.0;
  for (int n = 0; n < HERMITE * HERMITE * HERMITE; n++) {
    double tau_s = value / d->per_tau[result][n];
    sum += d->weight[n] * gsl_cdf_ugaussian_P((tau_s / 0.8 - 1.0) / DECAY_NOISE);
  }
  return sum;
}

static double round_quantile(const round_distribution *d, int result, double probability) {
  double low = 0.5 * d->per_tau[result][0] * 0.8, high = 4.0 * low;
  while (round_probability(d, result, low) > probability) low *= 0.5;
  while (round_probability(d, result, high) < probability) high *= 2.0;
  for (int i = 0; i < 50; i++) {
    double middle = 0.5 * (low + high);
    if (round_probability(d, result, middle) < probability) {
      low = middle;
    } else {
      high = middle;
    }
  }
  double value = 0.5 * (low + high);
  return result == CAVUM_MC_E_ACC ? sqrt(value) : value;
}

/** Mean and standard deviation. */
static void round_moments(const round_distribution *d, int result, double *mean, double *u) {
  double first = 0.0, second = 0.0;
  bool root = result == CAVUM_MC_E_ACC;
  for (int n = 0; n < HERMITE * HERMITE * HERMITE; n++) {
    double at = 0.8 * d->per_tau[result][n];  // at the mean decay time
    first += d->weight[n] * (root ? sqrt(at) * d->root_mean : at);
    second += d->weight[n] * (root ? at : at * at * (1.0 + DECAY_NOISE * DECAY_NOISE));
  }
  *mean = first;
  *u = sqrt(second - first * first);
}

// 1e6 draws: the standard deviation of the mean is u / 1000, that of u is u / 1414, that of a 2.5 %
// point 0.00267 u, from sqrt(p (1 - p) / n) over the density.
START_TEST(round_numbers_are_distributed_as_without_draws) {
  static round_distribution d;
  cavum_coldtest_setup setup = scenario_setup();
  for (int channel = 0; channel < 3; channel++) setup.channels[channel].noise = POWER_NOISE;
  setup.decay_noise = DECAY_NOISE;
  cavum_coldtest *test = round_numbers(&setup);
  cavum_coldtest_monte_carlo outcome = propagate(test, 0, 1000000);
  const int results[] = {CAVUM_MC_Q0, CAVUM_MC_E_ACC};
  fill_round_distribution(&d);
  for (int i = 0; i < 2; i++) {
    const cavum_coldtest_distribution *found = &outcome.results[results[i]];
    double mean = 0.0, u = 0.0;
    round_moments(&d, results[i], &mean, &u);
    CAVUM_CHECK_NEAR(found->mean / mean, 1.0, 5 * u / mean / 1000);
    CAVUM_CHECK_NEAR(found->uncertainty / u, 1.0, 5.0 / 1414);
    CAVUM_CHECK_NEAR((found->symmetric_low - round_quantile(&d, results[i], 0.025)) / u, 0.0,
                     5 * 0.00267);
    CAVUM_CHECK_NEAR((found->symmetric_high - round_quantile(&d, results[i], 0.975)) / u, 0.0,
                     5 * 0.00267);
    ck_assert(found->high - found->low <= found->symmetric_high - found->symmetric_low);
  }
  cavum_coldtest_destroy(&test);
}
END_TEST

/** A setup in which everything is uncertain by about u, and small. */
static cavum_coldtest_setup everything_uncertain(double u) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.num_extra = 1;
  setup.common_gain_uncertainty = u;
  setup.input_line_loss_db = 0.3;
  setup.input_line_uncertainty_db = 4.0 * u;
  setup.decay_uncertainty = 0.7 * u;
  setup.decay_noise = 1.2 * u;
  setup.frequency_uncertainty = 0.5 * u;
  setup.r_over_q_linac_ohm.uncertainty = 105.0 * u;
  setup.r_over_q_linac_ohm.distribution = CAVUM_DISTRIBUTION_RECTANGULAR;
  setup.accelerating_length_m.uncertainty = 0.1 * u;
  setup.geometry_factor_ohm.uncertainty = 300.0 * u;
  for (int channel = 0; channel < CAVUM_CHANNEL_EXTRA + 1; channel++) {
    setup.channels[channel].noise = u * (1.0 + 0.1 * channel);
    setup.channels[channel].gain_uncertainty = u * (1.5 - 0.1 * channel);
    setup.channels[channel].attenuation_uncertainty_db = 3.0 * u;
    setup.channels[channel].attenuation_db = 0.5 * channel;
    setup.channels[channel].zero_uncertainty_w = 1e-3 * u;
  }
  setup.directivity_db = -20.0 * log10(u);
  setup.forward_directivity_db = -20.0 * log10(1.3 * u);
  setup.circulator_return_loss_db = -20.0 * log10(0.8 * u);
  return setup;
}

// Every derivative at once: with all inputs uncertain by 1e-7 the model is linear, so the draws
// must scatter as the budget says and sit on the estimate. 1e5 draws: u to 0.22 %, the mean to
// 0.0032 u.
static void check_linear_regime(const cavum_coldtest *test, int64_t index) {
  cavum_coldtest_monte_carlo outcome = propagate(test, index, 100000);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, index);
  const int quantities[] = {CAVUM_QUANTITY_Q0, CAVUM_QUANTITY_E_ACC,
                            CAVUM_QUANTITY_SURFACE_RESISTANCE};
  for (int result = 0; result < CAVUM_NUM_MC; result++) {
    double value = point->value[quantities[result]], u = point->uncertainty[quantities[result]];
    const cavum_coldtest_distribution *d = &outcome.results[result];
    ck_assert(u / value > 1e-8 && u / value < 1e-5);
    CAVUM_CHECK_NEAR(d->uncertainty / u, 1.0, 5 * 0.0022);
    CAVUM_CHECK_NEAR((d->mean - value) / u, 0.0, 5 * 0.0032);
    ck_assert(d->linear_holds);
  }
}

START_TEST(draws_follow_the_budget_in_the_linear_regime) {
  cavum_circuit circuit = {
      .frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1.2e10, .q_pickup = 3e11, .q_extra = {2e11}};
  cavum_circuit later = circuit;
  later.q0 = 1.5e10;
  for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
    cavum_coldtest_setup setup = everything_uncertain(1e-7);
    setup.coupling = (cavum_coupling_method)method;
    cavum_coldtest_reading readings[3] = {
        scenario_drive(&circuit, 1.0), scenario_drive(&circuit, 1.5), scenario_drive(&later, 9.0)};
    readings[2].decay_time_s = NAN;
    cavum_coldtest *test = scenario_evaluate(&setup, readings, 3);
    for (int i = 0; i < 3; i++) check_linear_regime(test, i);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

START_TEST(emitted_alone_needs_no_reflected_power) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 3e10, .q_pickup = 3e12};
  cavum_coldtest_setup setup = everything_uncertain(1e-7);
  setup.num_extra = 0;
  cavum_coldtest_reading readings[2] = {scenario_drive(&circuit, 1.0),
                                        scenario_drive(&circuit, 9.0)};
  readings[1].decay_time_s = NAN;
  for (int i = 0; i < 2; i++) readings[i].power_w[CAVUM_CHANNEL_REFLECTED] = NAN;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
  for (int i = 0; i < 2; i++) check_linear_regime(test, i);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A decay time alone uncertain by 20 %: Q0 is normal and E_acc the root of a normal variable. The
// ends of the interval are exact functions of the normal quantile; 0.0042 u each at 4e5 draws.
START_TEST(root_of_a_normal_variable) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.decay_noise = 0.2;
  cavum_coldtest *test = round_numbers(&setup);
  cavum_coldtest_monte_carlo outcome = propagate(test, 0, 400000);
  const cavum_coldtest_distribution *q0 = &outcome.results[CAVUM_MC_Q0];
  const cavum_coldtest_distribution *e_acc = &outcome.results[CAVUM_MC_E_ACC];
  double q0_value = scenario_value(test, 0, CAVUM_QUANTITY_Q0);
  double e_value = scenario_value(test, 0, CAVUM_QUANTITY_E_ACC);
  double shift = 0.2 * NORMAL_975, q0_tolerance = 5 * 0.0042 * 0.2;
  CAVUM_CHECK_NEAR(q0->symmetric_low / q0_value, 1.0 - shift, q0_tolerance);
  CAVUM_CHECK_NEAR(q0->symmetric_high / q0_value, 1.0 + shift, q0_tolerance);
  CAVUM_CHECK_NEAR(e_acc->symmetric_low / e_value, sqrt(1.0 - shift), q0_tolerance);
  CAVUM_CHECK_NEAR(e_acc->symmetric_high / e_value, sqrt(1.0 + shift), q0_tolerance);
  CAVUM_CHECK_NEAR(e_acc->median / e_value, 1.0, 5 * 0.5 * 0.2 * 1.2533 / sqrt(4e5));
  // The linear interval is symmetric, the true one is not: one digit of u tells them apart.
  ck_assert(!e_acc->linear_holds);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A cable uncertain by 1 dB before the pickup meter and a stated Q_t: E_acc is log-normal with
// sigma = ln(10)/20: mean exp(sigma^2/2), ends exp(-+ 1.96 sigma), u = mean sqrt(exp(sigma^2) - 1).
START_TEST(log_normal_gradient) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.q_pickup.value = 2e12;
  setup.channels[CAVUM_CHANNEL_TRANSMITTED].attenuation_uncertainty_db = 1.0;
  cavum_coldtest_reading reading = scenario_reading(4.0, 0.6, 0.02, NAN);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  cavum_coldtest_monte_carlo outcome = propagate(test, 0, 400000);
  const cavum_coldtest_distribution *d = &outcome.results[CAVUM_MC_E_ACC];
  double value = scenario_value(test, 0, CAVUM_QUANTITY_E_ACC), sigma = log(10.0) / 20.0;
  double tolerance = 5 * 0.0042 * sigma * 1.2;
  CAVUM_CHECK_NEAR(d->symmetric_low / value, exp(-NORMAL_975 * sigma), tolerance);
  CAVUM_CHECK_NEAR(d->symmetric_high / value, exp(NORMAL_975 * sigma), tolerance);
  CAVUM_CHECK_NEAR(d->mean / value, exp(0.5 * sigma * sigma), 5 * sigma / sqrt(4e5));
  CAVUM_CHECK_NEAR(d->uncertainty / value,
                   exp(0.5 * sigma * sigma) * sqrt(exp(sigma * sigma) - 1.0),
                   5 * sigma * 1.1 / sqrt(2 * 4e5));
  ck_assert(d->high - d->low < d->symmetric_high - d->symmetric_low);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A circulator of 20 dB return loss: Q0 is an arcsine variable, Q0 (1 + 0.2 s cos phi) with the
// share s = beta*/(1 + beta*). Its 2.5 % point is at cos = -cos(0.025 pi); all lies within +-0.2 s.
START_TEST(unknown_phase_is_an_arcsine_variable) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.circulator_return_loss_db = 20.0;
  cavum_coldtest *test = round_numbers(&setup);
  cavum_coldtest_monte_carlo outcome = propagate(test, 0, 100000);
  const cavum_coldtest_distribution *d = &outcome.results[CAVUM_MC_Q0];
  double coupling = scenario_value(test, 0, CAVUM_QUANTITY_COUPLING);
  double half = 0.2 * coupling / (1.0 + coupling);
  double value = scenario_value(test, 0, CAVUM_QUANTITY_Q0);
  // Quantile error: sqrt(p q / n) over the density 1/(pi half sin(0.025 pi)).
  double tolerance = 5 * sqrt(0.025 * 0.975 / 1e5) * CAVUM_PI * half * sin(0.025 * CAVUM_PI);
  CAVUM_CHECK_NEAR(d->symmetric_low / value, 1.0 - half * cos(0.025 * CAVUM_PI), tolerance);
  CAVUM_CHECK_NEAR(d->symmetric_high / value, 1.0 + half * cos(0.025 * CAVUM_PI), tolerance);
  CAVUM_CHECK_NEAR(d->uncertainty / value, half / sqrt(2.0), 5 * half * 0.36 / sqrt(1e5));
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(common_gain_cancels_in_q0) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.common_gain_uncertainty = 0.1;
  cavum_coldtest *test = round_numbers(&setup);
  cavum_coldtest_monte_carlo outcome = propagate(test, 0, 20000);
  double value = scenario_value(test, 0, CAVUM_QUANTITY_Q0);
  // Only rounding is left of Q0, and E_acc goes with the root of the gain.
  CAVUM_CHECK_NEAR(outcome.results[CAVUM_MC_Q0].uncertainty / value, 0.0, 1e-14);
  CAVUM_CHECK_NEAR(outcome.results[CAVUM_MC_E_ACC].symmetric_high /
                       scenario_value(test, 0, CAVUM_QUANTITY_E_ACC),
                   sqrt(1.0 + 0.1 * NORMAL_975), 5 * 0.019 * 0.05);
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(seeds_make_runs_repeatable_and_digits_stable) {
  cavum_coldtest_setup setup = everything_uncertain(0.01);
  setup.num_extra = 0;
  cavum_coldtest *test = round_numbers(&setup);
  cavum_coldtest_monte_carlo first = propagate(test, 0, 0), second = propagate(test, 0, 0);
  ck_assert_int_eq(memcmp(&first, &second, sizeof first), 0);
  ck_assert(first.stable);
  ck_assert(first.num_draws >= 100000 && first.num_draws <= 4000000);
  // Two digits stable: another seed agrees within the tolerance of both runs.
  setup.seed = 5;
  cavum_coldtest *other = round_numbers(&setup);
  cavum_coldtest_monte_carlo third = propagate(other, 0, 0);
  ck_assert(memcmp(&first, &third, sizeof first) != 0);
  double u = first.results[CAVUM_MC_Q0].uncertainty;
  double digit = pow(10.0, floor(log10(u)) - 1.0);
  CAVUM_CHECK_NEAR(third.results[CAVUM_MC_Q0].uncertainty, u, digit);
  CAVUM_CHECK_NEAR(third.results[CAVUM_MC_Q0].symmetric_low,
                   first.results[CAVUM_MC_Q0].symmetric_low, digit);
  cavum_coldtest_destroy(&test);
  cavum_coldtest_destroy(&other);
}
END_TEST

START_TEST(undetermined_readings_are_said_to_be) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  for (int channel = 0; channel < 3; channel++) setup.channels[channel].noise = 0.2;
  cavum_coldtest_reading reading = scenario_reading(10.0, 9.0, 0.5, 0.8);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  ck_assert(cavum_coldtest_get_point(test, 0)->flags & (1u << CAVUM_FLAG_INDEX_LOSS_UNRESOLVED));
  cavum_coldtest_monte_carlo outcome = {.num_draws = -1};
  ck_assert_int_eq(cavum_coldtest_run_monte_carlo(&outcome, test, 0, 0, NULL),
                   CAVUM_ERR_NOT_CONVERGED);
  ck_assert_int_eq(outcome.num_draws, -1);
  cavum_coldtest_destroy(&test);
}
END_TEST

static int compare(const void *left, const void *right) {
  double a = *(const double *)left, b = *(const double *)right;
  return (a > b) - (a < b);
}

// The bins against a full sort, on samples that are spread, skewed, lumped and equal.
START_TEST(intervals_equal_those_of_a_full_sort) {
  enum { COUNT = 5001 };
  static double values[COUNT], sorted[COUNT];
  for (int kind = 0; kind < 4; kind++) {
    uint64_t state = 77;
    for (int i = 0; i < COUNT; i++) {
      state = state * 6364136223846793005u + 1442695040888963407u;
      double x = (double)(state >> 11) * 0x1p-53;
      values[i] = kind == 0 ? x : kind == 1 ? exp(12.0 * x) : kind == 2 ? floor(3.0 * x) : 4.5;
      sorted[i] = values[i];
    }
    qsort(sorted, COUNT, sizeof *sorted, compare);
    cavum_sample_intervals intervals;
    ck_assert_int_eq(cavum_sample_make_intervals(&intervals, values, COUNT, 0.9, true, NULL),
                     CAVUM_OK);
    int inside = 4501, outside = COUNT - inside, best = 0;
    for (int r = 1; r < outside; r++) {
      if (sorted[r + inside] - sorted[r] < sorted[best + inside] - sorted[best]) best = r;
    }
    ck_assert(intervals.median == sorted[COUNT / 2]);
    ck_assert(intervals.low == sorted[best] && intervals.high == sorted[best + inside]);
    ck_assert(intervals.symmetric_low == sorted[outside / 2]);
    ck_assert(intervals.symmetric_high == sorted[outside / 2 + inside]);
    cavum_sample_intervals brief;
    cavum_sample_make_intervals(&brief, values, COUNT, 0.9, false, NULL);
    ck_assert(brief.symmetric_low == intervals.symmetric_low);
    ck_assert(brief.symmetric_high == intervals.symmetric_high);
  }
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, round_numbers_are_distributed_as_without_draws);
  tcase_add_test(tests, draws_follow_the_budget_in_the_linear_regime);
  tcase_add_test(tests, emitted_alone_needs_no_reflected_power);
  tcase_add_test(tests, root_of_a_normal_variable);
  tcase_add_test(tests, log_normal_gradient);
  tcase_add_test(tests, unknown_phase_is_an_arcsine_variable);
  tcase_add_test(tests, common_gain_cancels_in_q0);
  tcase_add_test(tests, seeds_make_runs_repeatable_and_digits_stable);
  tcase_add_test(tests, undetermined_readings_are_said_to_be);
  tcase_add_test(tests, intervals_equal_those_of_a_full_sort);
}

CAVUM_TEST_MAIN("coldtest Monte Carlo", add_tests)
