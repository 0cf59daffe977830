// SPDX-License-Identifier: GPL-3.0-or-later
// What the cold-test tests share: the cavity of the worked examples and readings made from it.
#ifndef CAVUM_TEST_SCENARIO_H
#define CAVUM_TEST_SCENARIO_H

#include "cavum/coldtest.h"
#include "support.h"

/** The cavity of the worked examples: 1300 MHz, R/Q 105 ohm (linac), L 0.1153 m, G 270 ohm. */
static inline cavum_coldtest_setup scenario_setup(void) {
  cavum_coldtest_setup setup = cavum_coldtest_setup_default();
  setup.r_over_q_linac_ohm.value = 105.0;
  setup.accelerating_length_m.value = 0.1153;
  setup.geometry_factor_ohm.value = 270.0;
  setup.epk_over_eacc.value = 2.0;
  setup.bpk_over_eacc_t_per_v_per_m.value = 4.26e-9;
  setup.frequency_hz = 1.3e9;
  return setup;
}

/** A reading of forward, reflected, transmitted power and decay time; NAN: not read. */
static inline cavum_coldtest_reading scenario_reading(double forward_w, double reflected_w,
                                                      double transmitted_w, double decay_time_s) {
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  reading.power_w[CAVUM_CHANNEL_FORWARD] = forward_w;
  reading.power_w[CAVUM_CHANNEL_REFLECTED] = reflected_w;
  reading.power_w[CAVUM_CHANNEL_TRANSMITTED] = transmitted_w;
  reading.decay_time_s = decay_time_s;
  return reading;
}

/** Evaluates readings that must be good. */
static inline cavum_coldtest *scenario_evaluate(const cavum_coldtest_setup *setup,
                                                cavum_coldtest_reading *items, int64_t count) {
  cavum_coldtest_readings readings = {.num_readings = count, .items = items, .file = "readings"};
  cavum_coldtest *test = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_coldtest_evaluate(&test, setup, &readings, &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return test;
}

/** One result of one point. */
static inline double scenario_value(const cavum_coldtest *test, int64_t index,
                                    cavum_coldtest_quantity quantity) {
  return cavum_coldtest_get_point(test, index)->value[quantity];
}

/** The reading that a circuit gives at a stored energy, at the cavity ports. */
static inline cavum_coldtest_reading scenario_drive(const cavum_circuit *circuit, double energy_j) {
  cavum_circuit_state state;
  cavum_error error = {0};
  ck_assert_msg(cavum_circuit_drive(&state, circuit, energy_j, &error) == CAVUM_OK, "%s",
                error.message);
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    bool port = i < CAVUM_CHANNEL_EXTRA || circuit->q_extra[i - CAVUM_CHANNEL_EXTRA] > 0.0;
    if (port) reading.power_w[i] = state.power_w[i];
  }
  reading.decay_time_s = state.decay_time_s;
  reading.frequency_hz = circuit->frequency_hz;
  return reading;
}

#endif
