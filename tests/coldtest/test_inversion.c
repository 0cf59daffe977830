// SPDX-License-Identifier: GPL-3.0-or-later
// Forward model and inversion against each other over a random grid; correlations that cancel;
// readings that no cavity can give.
#include <string.h>

#include "base/base.h"
#include "scenario.h"

/** Uniform numbers in [0, 1) from a fixed sequence (a 64-bit linear congruence, Knuth's constants).
 */
static double next_uniform(uint64_t *state) {
  *state = *state * 6364136223846793005u + 1442695040888963407u;
  return (double)(*state >> 11) * 0x1p-53;
}

static double next_between(uint64_t *state, double low, double high) {
  return low * pow(high / low, next_uniform(state));
}

static cavum_circuit random_circuit(uint64_t *state) {
  cavum_circuit circuit = {.frequency_hz = next_between(state, 1e8, 4e9),
                           .q0 = next_between(state, 1e8, 1e11)};
  circuit.q_pickup = circuit.q0 * next_between(state, 5.0, 1e4);
  circuit.q_extra[0] = circuit.q0 * next_between(state, 5.0, 1e4);
  circuit.q_extra[1] = circuit.q0 * next_between(state, 5.0, 1e4);
  circuit.q_external = circuit.q0 / next_between(state, 0.1, 10.0);
  return circuit;
}

static void check_circuit(const cavum_coldtest *test, int64_t index, const cavum_circuit *circuit,
                          double energy_j, double tolerance) {
  CAVUM_CHECK_RELATIVE(scenario_value(test, index, CAVUM_QUANTITY_Q0), circuit->q0, tolerance);
  CAVUM_CHECK_RELATIVE(scenario_value(test, index, CAVUM_QUANTITY_Q_EXTERNAL), circuit->q_external,
                       tolerance);
  CAVUM_CHECK_RELATIVE(scenario_value(test, index, CAVUM_QUANTITY_Q_PICKUP), circuit->q_pickup,
                       tolerance);
  CAVUM_CHECK_RELATIVE(scenario_value(test, index, CAVUM_QUANTITY_STORED_ENERGY), energy_j,
                       tolerance);
  double voltage = sqrt(105.0 * 2.0 * CAVUM_PI * circuit->frequency_hz * energy_j);
  CAVUM_CHECK_RELATIVE(scenario_value(test, index, CAVUM_QUANTITY_VOLTAGE), voltage, tolerance);
}

// 600 circuits, beta* of 0.1 to 10, three methods each. 1e-12 allows some 4000 roundings: P_d is a
// difference that keeps at least 1/30 of P_f, and the emitted methods lose another factor beta*.
START_TEST(round_trips_on_both_branches_and_by_all_methods) {
  uint64_t state = 11;
  int over = 0, under = 0;
  for (int i = 0; i < 600; i++) {
    cavum_circuit circuit = random_circuit(&state);
    double energy_j = next_between(&state, 1e-3, 100.0);
    cavum_coldtest_reading reading = scenario_drive(&circuit, energy_j);
    cavum_coldtest_setup setup = scenario_setup();
    setup.num_extra = 2;
    setup.coupling = (cavum_coupling_method)(i % CAVUM_NUM_COUPLING_METHODS);
    cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
    bool overcoupled = cavum_coldtest_get_point(test, 0)->branch == CAVUM_BRANCH_OVER;
    over += overcoupled;
    under += !overcoupled;
    check_circuit(test, 0, &circuit, energy_j, 1e-12);
    cavum_coldtest_destroy(&test);
  }
  ck_assert_int_gt(over, 200);
  ck_assert_int_gt(under, 200);
}
END_TEST

// A decay calibration and a later step of another Q0 in the same test; the branch of the step is
// decided by Q_e alone. Same tolerance as above, for the same reasons.
START_TEST(round_trips_by_the_pickup) {
  uint64_t state = 12;
  for (int i = 0; i < 300; i++) {
    cavum_circuit circuit = random_circuit(&state), later = circuit;
    later.q0 *= next_between(&state, 0.2, 2.0);
    double energy_j = next_between(&state, 1e-3, 100.0);
    cavum_coldtest_reading readings[2] = {scenario_drive(&circuit, 0.01 * energy_j),
                                          scenario_drive(&later, energy_j)};
    readings[1].decay_time_s = NAN;
    readings[1].power_w[CAVUM_CHANNEL_EMITTED] = NAN;
    cavum_coldtest_setup setup = scenario_setup();
    setup.num_extra = 2;
    cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
    check_circuit(test, 0, &circuit, 0.01 * energy_j, 1e-12);
    check_circuit(test, 1, &later, energy_j, 1e-12);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

// Attenuation, zeros, input line: readings at the meter made from powers at the cavity.
START_TEST(calibration_chain_is_undone) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e12};
  cavum_coldtest_reading reading = scenario_drive(&circuit, 3.0);
  cavum_coldtest_setup setup = scenario_setup();
  setup.input_line_loss_db = 0.4;
  const double decibels[] = {30.5, 41.0, 10.25};
  for (int channel = 0; channel < 4; channel++) {
    cavum_coldtest_channel *chain = &setup.channels[setup.channels[channel].chain];
    double attenuation = decibels[channel == 3 ? 1 : channel];
    double line = channel == 0 ? -0.4 : channel == 2 ? 0.0 : 0.4;
    chain->attenuation_db = attenuation;
    chain->zero_w = 1e-7;
    reading.power_w[channel] =
        reading.power_w[channel] * pow(10.0, -(attenuation + line) / 10.0) + 1e-7;
  }
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  // The zero takes up to four digits from the smallest reading.
  check_circuit(test, 0, &circuit, 3.0, 1e-11);
  cavum_coldtest_destroy(&test);
}
END_TEST

// The pickup meter's gain and cable are in Q_t and, inverted, in P_t: they cancel in every later
// step, and so does its contribution to the budget.
START_TEST(pickup_gain_cancels_in_later_steps) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e13};
  cavum_coldtest_reading readings[2] = {scenario_drive(&circuit, 1.0),
                                        scenario_drive(&circuit, 9.0)};
  readings[1].decay_time_s = NAN;
  cavum_coldtest_setup setup = scenario_setup();
  setup.channels[CAVUM_CHANNEL_TRANSMITTED].gain_uncertainty = 0.05;
  setup.channels[CAVUM_CHANNEL_TRANSMITTED].attenuation_uncertainty_db = 0.2;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 1);
  // P_t is 1e-3 of P_d, so a relative 7 % of P_t leaves 7e-5 in Q0 through the power balance.
  CAVUM_CHECK_NEAR(point->uncertainty[CAVUM_QUANTITY_E_ACC] / point->value[CAVUM_QUANTITY_E_ACC],
                   0.0, 1e-14);
  ck_assert(point->uncertainty[CAVUM_QUANTITY_Q0] < 1.1e-4 * point->value[CAVUM_QUANTITY_Q0]);
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  ck_assert(pickup.value.uncertainty > 0.06 * pickup.value.value);
  cavum_coldtest_destroy(&test);
}
END_TEST

// The flag's definition: P_t over the power in the wall is Q0 / Q_t, and 5 % of it is the limit.
START_TEST(pickup_of_more_than_a_twentieth_is_flagged) {
  const double share[] = {1e-3, 0.0499, 0.0501, 0.3, 1.0};
  for (int i = 0; i < 5; i++) {
    cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 8e9};
    circuit.q_pickup = circuit.q0 / share[i];
    cavum_coldtest_reading reading = scenario_drive(&circuit, 1.0);
    cavum_coldtest_setup setup = scenario_setup();
    cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
    uint32_t flags = cavum_coldtest_get_point(test, 0)->flags;
    bool flagged = flags & (1u << CAVUM_FLAG_INDEX_PICKUP_NOT_SMALL);
    ck_assert_msg(flagged == (share[i] > 0.05), "P_t of %g of the loss", share[i]);
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

// With the method pickup, readings with a decay time calibrate and are then inverted like the rest.
START_TEST(pickup_method_uses_the_mean_calibration) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e12};
  cavum_coldtest_reading readings[3] = {
      scenario_drive(&circuit, 1.0), scenario_drive(&circuit, 2.0), scenario_drive(&circuit, 9.0)};
  readings[1].decay_time_s *= 1.02;
  readings[2].decay_time_s = NAN;
  cavum_coldtest_setup setup = scenario_setup();
  setup.decay_noise = 0.01;
  setup.q0_method = CAVUM_Q0_PICKUP;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 3);
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  // Two readings of equal weight, 1 % each and 2 % apart: mean 1.01, u 1 %/sqrt(2), chi^2 2 (about
  // the mean, to the order of 1 % that relative weights leave).
  CAVUM_CHECK_RELATIVE(pickup.value.value, 1.01 * 2e12, 1e-12);
  CAVUM_CHECK_RELATIVE(pickup.value.uncertainty, 0.01 * 2e12 * hypot(1.0, 1.02) / 2.0, 1e-9);
  CAVUM_CHECK_NEAR(pickup.chi_squared, 2.0, 0.05);
  ck_assert_int_eq(pickup.degrees_of_freedom, 1);
  for (int i = 0; i < 3; i++) {
    ck_assert(!cavum_coldtest_get_point(test, i)->by_decay);
    CAVUM_CHECK_RELATIVE(scenario_value(test, i, CAVUM_QUANTITY_Q0), 1.01 * 2e10, 1e-12);
  }
  cavum_coldtest_destroy(&test);
}
END_TEST

// Covariance of two points through a common gain: E_acc of both moves alike.
START_TEST(points_are_correlated_through_shared_inputs) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e12};
  cavum_coldtest_reading readings[2] = {scenario_drive(&circuit, 1.0),
                                        scenario_drive(&circuit, 9.0)};
  cavum_coldtest_setup setup = scenario_setup();
  setup.common_gain_uncertainty = 0.06;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
  double covariance = 0.0;
  ck_assert_int_eq(cavum_coldtest_covariance(&covariance, test, 0, CAVUM_QUANTITY_E_ACC, 1,
                                             CAVUM_QUANTITY_E_ACC, NULL),
                   CAVUM_OK);
  double product =
      scenario_value(test, 0, CAVUM_QUANTITY_E_ACC) * scenario_value(test, 1, CAVUM_QUANTITY_E_ACC);
  CAVUM_CHECK_RELATIVE(covariance, 0.03 * 0.03 * product, 1e-12);
  // And Q0 does not move at all: all the meters changed by one factor.
  CAVUM_CHECK_NEAR(cavum_coldtest_get_point(test, 0)->uncertainty[CAVUM_QUANTITY_Q0] / 2e10, 0.0,
                   1e-13);
  cavum_coldtest_destroy(&test);
}
END_TEST

// What is of one reading alone is not shared: the noise of the decay times, 4 %, of which E_acc, as
// sqrt(tau), has half, widens each point and leaves the covariance of two as it is.
START_TEST(noise_of_readings_is_not_shared) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e12};
  cavum_coldtest_reading readings[2] = {scenario_drive(&circuit, 1.0),
                                        scenario_drive(&circuit, 9.0)};
  cavum_coldtest_setup setup = scenario_setup();
  setup.common_gain_uncertainty = 0.06;
  setup.decay_noise = 0.04;
  cavum_coldtest *test = scenario_evaluate(&setup, readings, 2);
  for (int i = 0; i < 2; i++) {
    for (int j = 0; j < 2; j++) {
      double covariance = 0.0, product = scenario_value(test, i, CAVUM_QUANTITY_E_ACC) *
                                         scenario_value(test, j, CAVUM_QUANTITY_E_ACC);
      ck_assert_int_eq(cavum_coldtest_covariance(&covariance, test, i, CAVUM_QUANTITY_E_ACC, j,
                                                 CAVUM_QUANTITY_E_ACC, NULL),
                       CAVUM_OK);
      double of_noise = i == j ? 0.02 * 0.02 : 0.0;
      CAVUM_CHECK_RELATIVE(covariance, (0.03 * 0.03 + of_noise) * product, 1e-12);
    }
  }
  cavum_coldtest_destroy(&test);
}
END_TEST

START_TEST(correlation_of_q0_and_gradient) {
  cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 0.05, 0.8);
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  setup.decay_noise = 0.03;
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  // With the decay time alone uncertain, Q0 and E_acc move together.
  CAVUM_CHECK_NEAR(cavum_coldtest_get_point(test, 0)->correlation, 1.0, 1e-14);
  cavum_coldtest_destroy(&test);
  setup.decay_noise = 0.0;
  setup.channels[CAVUM_CHANNEL_FORWARD].noise = 0.03;
  test = scenario_evaluate(&setup, &reading, 1);
  // With P_f alone uncertain and overcoupled they move against each other. With rho = sqrt(P_r /
  // P_f) and 1 + beta* = 2 / (1 - rho): Q0 = 2 Q_L / (1 - rho) falls with P_f as rho does, and U,
  // which goes as Q_L (1 + beta*) P_f (1 - rho^2) = 2 Q_L (P_f + sqrt(P_r P_f)), rises.
  CAVUM_CHECK_NEAR(cavum_coldtest_get_point(test, 0)->correlation, -1.0, 1e-14);
  cavum_coldtest_destroy(&test);
}
END_TEST

// The budget must be the derivative: compared with central differences of the whole evaluation,
// relative step 1e-5, whose truncation and rounding errors are below 1e-8 of the contribution.
START_TEST(budget_is_the_derivative) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_UNDER;
  const double u = 1e-5;
  setup.decay_noise = u;
  for (int channel = 0; channel < 4; channel++) setup.channels[channel].noise = u;
  cavum_coldtest_reading reading = scenario_reading(7.3, 1.9, 0.31, 0.61);
  reading.power_w[CAVUM_CHANNEL_EMITTED] = 2.1;
  for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
    setup.coupling = (cavum_coupling_method)method;
    cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
    for (int input = 0; input < 5; input++) {
      double *cell = input < 4 ? &reading.power_w[input] : &reading.decay_time_s;
      double kept = *cell, shifted[2];
      cavum_coldtest_budget budget;
      for (int side = 0; side < 2; side++) {
        *cell = kept * (1.0 + (side ? u : -u));
        cavum_coldtest *moved = scenario_evaluate(&setup, &reading, 1);
        shifted[side] = scenario_value(moved, 0, CAVUM_QUANTITY_Q0);
        cavum_coldtest_destroy(&moved);
      }
      *cell = kept;
      cavum_coldtest_make_budget(&budget, test, 0, CAVUM_QUANTITY_Q0, NULL);
      int which = input < 4 ? CAVUM_INPUT_NOISE_FORWARD + input : CAVUM_INPUT_NOISE_DECAY;
      CAVUM_CHECK_NEAR(budget.contribution[which] / budget.value,
                       0.5 * (shifted[1] - shifted[0]) / budget.value, 1e-8 * u + 2e-15);
    }
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

START_TEST(couplings_agree_and_disagree) {
  cavum_circuit circuit = {.frequency_hz = 1.3e9, .q0 = 2e10, .q_external = 1e10, .q_pickup = 2e12};
  cavum_coldtest_reading reading = scenario_drive(&circuit, 1.0);
  cavum_coldtest_setup setup = scenario_setup();
  for (int channel = 0; channel < 4; channel++) setup.channels[channel].noise = 0.01;
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  cavum_coldtest_checks checks;
  ck_assert_int_eq(cavum_coldtest_check_point(&checks, test, 0, NULL), CAVUM_OK);
  for (int method = 0; method < CAVUM_NUM_COUPLING_METHODS; method++) {
    CAVUM_CHECK_RELATIVE(checks.coupling_by[method], 2.0 / 1.01, 1e-12);
  }
  CAVUM_CHECK_NEAR(checks.disagreement, 0.0, 1e-9);
  ck_assert(!(point->flags & (1u << CAVUM_FLAG_INDEX_INCONSISTENT)));
  cavum_coldtest_destroy(&test);
  reading.power_w[CAVUM_CHANNEL_REFLECTED] *= 1.2;
  test = scenario_evaluate(&setup, &reading, 1);
  ck_assert(cavum_coldtest_get_point(test, 0)->flags & (1u << CAVUM_FLAG_INDEX_INCONSISTENT));
  cavum_coldtest_destroy(&test);
}
END_TEST

// Leak amplitudes are arithmetic: 20, 30, 40 dB are 0.1, 0.0316, 0.01 of the forward wave. The
// bounds are those of rho -+ leak in closed form, (1 + rho) tau P_f 2 w / P_d.
START_TEST(directivity_bounds_follow_the_leak) {
  const double decibels[] = {20.0, 30.0, 40.0}, leaks[] = {0.1, 0.0316227766, 0.01};
  for (int i = 0; i < 3; i++) {
    cavum_coldtest_setup setup = scenario_setup();
    setup.directivity_db = decibels[i];
    setup.branch = CAVUM_BRANCH_OVER;
    cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 0.05, 0.8);
    cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
    cavum_coldtest_checks checks;
    ck_assert_int_eq(cavum_coldtest_check_point(&checks, test, 0, NULL), CAVUM_OK);
    for (int side = 0; side < 2; side++) {
      double rho = sqrt(0.1) + (side ? leaks[i] : -leaks[i]);
      double flow = 2.0 * CAVUM_PI * 1.3e9 * 0.8 * 2.0 * 10.0 * (1.0 + rho);
      CAVUM_CHECK_RELATIVE(checks.q0_bounds[side], flow / (10.0 * (1.0 - rho * rho) - 0.05), 1e-9);
      CAVUM_CHECK_RELATIVE(checks.e_acc_bounds_v_per_m[side], sqrt(105.0 * flow) / 0.1153, 1e-9);
    }
    cavum_coldtest_destroy(&test);
  }
}
END_TEST

/** The error message of readings that must be refused. */
static void check_refused(const cavum_coldtest_setup *setup, cavum_coldtest_reading reading,
                          const char *part) {
  reading.line = 7;
  cavum_coldtest_readings readings = {.num_readings = 1, .items = &reading, .file = "r.csv"};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, setup, &readings, &error), CAVUM_ERR_INPUT);
  ck_assert_ptr_null(test);
  printf("%s\n", error.message);
  ck_assert_msg(strstr(error.message, "r.csv:7: ") == error.message, "%s", error.message);
  ck_assert_msg(strstr(error.message, part) != NULL, "%s has no %s", error.message, part);
}

START_TEST(impossible_readings_are_refused_by_line) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  check_refused(&setup, scenario_reading(-10.0, 1.0, 0.05, 0.8), "forward");
  check_refused(&setup, scenario_reading(NAN, 1.0, 0.05, 0.8), "forward");
  check_refused(&setup, scenario_reading(INFINITY, 1.0, 0.05, 0.8), "forward");
  check_refused(&setup, scenario_reading(10.0, -1.0, 0.05, 0.8), "reflected");
  check_refused(&setup, scenario_reading(10.0, 10.0, 0.05, 0.8), "not below forward");
  check_refused(&setup, scenario_reading(10.0, 1.0, 0.0, 0.8), "transmitted");
  check_refused(&setup, scenario_reading(10.0, 1.0, 9.5, 0.8), "no dissipated power");
  check_refused(&setup, scenario_reading(10.0, 1.0, 0.05, 0.0), "decay time");
  check_refused(&setup, scenario_reading(10.0, NAN, 0.05, 0.8), "neither");
  check_refused(&setup, scenario_reading(10.0, 1.0, 0.05, NAN), "no Q_t");
  cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 0.05, 0.8);
  reading.power_w[CAVUM_CHANNEL_EMITTED] = 41.0;
  check_refused(&setup, reading, "four times");
  setup.branch = CAVUM_BRANCH_DECIDE;
  check_refused(&setup, scenario_reading(10.0, 1.0, 0.05, 0.8), "branch");
  setup.frequency_hz = 0.0;
  check_refused(&setup, scenario_reading(10.0, 1.0, 0.05, 0.8), "frequency");
  cavum_coldtest_readings none = {.file = "r.csv"};
  cavum_coldtest *test = NULL;
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &none, NULL), CAVUM_ERR_INPUT);
  setup.r_over_q_linac_ohm.value = -1.0;
  none.num_readings = 1;
  none.items = &reading;
  ck_assert_int_eq(cavum_coldtest_evaluate(&test, &setup, &none, NULL), CAVUM_ERR_INPUT);
}
END_TEST

// Zero reflected power is critical coupling: beta* = 1, nothing infinite, nothing NaN.
START_TEST(zero_reflection_is_critical_coupling) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  setup.static_heat_w = (cavum_estimate){.value = 1.0, .uncertainty = 0.1};
  setup.channels[CAVUM_CHANNEL_REFLECTED].zero_uncertainty_w = 1e-3;
  setup.channels[CAVUM_CHANNEL_REFLECTED].noise = 0.01;
  cavum_coldtest_reading reading = scenario_reading(10.0, 0.0, 0.05, 0.8);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  CAVUM_CHECK_NEAR(point->value[CAVUM_QUANTITY_COUPLING], 1.0, 1e-15);
  ck_assert(point->flags & (1u << CAVUM_FLAG_INDEX_REFLECTION_UNRESOLVED));
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    ck_assert(isfinite(point->value[i]) && isfinite(point->uncertainty[i]));
  }
  // sqrt(P_r) known to about sqrt(1 mW): rho to 0.5 sqrt(1e-3 / 10).
  CAVUM_CHECK_RELATIVE(point->uncertainty[CAVUM_QUANTITY_COUPLING], sqrt(1e-4), 1e-9);
  cavum_coldtest_destroy(&test);
}
END_TEST

// A point's couplings are those of its reading; there is none beyond the last.
START_TEST(checks_of_a_point) {
  cavum_coldtest_setup setup = scenario_setup();
  setup.branch = CAVUM_BRANCH_OVER;
  cavum_coldtest_reading reading = scenario_reading(10.0, 1.0, 0.05, 0.8);
  cavum_coldtest *test = scenario_evaluate(&setup, &reading, 1);
  cavum_coldtest_checks checks = {.disagreement = 7.0};
  ck_assert_int_eq(cavum_coldtest_check_point(&checks, test, 1, NULL), CAVUM_ERR_RANGE);
  ck_assert_int_eq(cavum_coldtest_check_point(&checks, test, -1, NULL), CAVUM_ERR_RANGE);
  ck_assert_int_eq(cavum_coldtest_check_point(NULL, test, 0, NULL), CAVUM_ERR_USAGE);
  ck_assert_int_eq(cavum_coldtest_check_point(&checks, NULL, 0, NULL), CAVUM_ERR_USAGE);
  ck_assert(checks.disagreement == 7.0);
  ck_assert_int_eq(cavum_coldtest_check_point(&checks, test, 0, NULL), CAVUM_OK);
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, 0);
  ck_assert(checks.coupling_by[CAVUM_COUPLING_REFLECTED] == point->value[CAVUM_QUANTITY_COUPLING]);
  ck_assert(isnan(checks.coupling_by[CAVUM_COUPLING_EMITTED]) && isnan(checks.disagreement));
  cavum_coldtest_destroy(&test);
}
END_TEST

static void add_tests(TCase *tests) {
  tcase_add_test(tests, checks_of_a_point);
  tcase_add_test(tests, round_trips_on_both_branches_and_by_all_methods);
  tcase_add_test(tests, round_trips_by_the_pickup);
  tcase_add_test(tests, calibration_chain_is_undone);
  tcase_add_test(tests, pickup_gain_cancels_in_later_steps);
  tcase_add_test(tests, pickup_of_more_than_a_twentieth_is_flagged);
  tcase_add_test(tests, pickup_method_uses_the_mean_calibration);
  tcase_add_test(tests, points_are_correlated_through_shared_inputs);
  tcase_add_test(tests, noise_of_readings_is_not_shared);
  tcase_add_test(tests, correlation_of_q0_and_gradient);
  tcase_add_test(tests, budget_is_the_derivative);
  tcase_add_test(tests, couplings_agree_and_disagree);
  tcase_add_test(tests, directivity_bounds_follow_the_leak);
  tcase_add_test(tests, impossible_readings_are_refused_by_line);
  tcase_add_test(tests, zero_reflection_is_critical_coupling);
}

CAVUM_TEST_MAIN("coldtest inversion", add_tests)
