// SPDX-License-Identifier: GPL-3.0-or-later
// Setups: defaults, checks, and the standard uncertainty and distribution of every input quantity.
#include "coldtest/setup.h"

#include <gsl/gsl_cdf.h>
#include <stdio.h>
#include <string.h>

#include "base/sized.h"
#include "coldtest/coldtest_private.h"

// Half a radian is half a bandwidth: no loop that is locked is as far off.
static const double LARGEST_PHASE_RAD = 0.5;
// As of a channel: 300 dB are more than any line has.
static const double LARGEST_LOSS_DB = 300.0;
// Where k uncertainties of the loop phase are more, they count as this: 3 half bandwidths.
static const double LARGEST_EXPANDED_PHASE_RAD = 1.25;

static const cavum_sized SETUP = {.name = "setup of a cold test",
                                  .maker = "cavum_coldtest_setup_default()",
                                  .first = sizeof(cavum_coldtest_setup),
                                  .full = sizeof(cavum_coldtest_setup)};

cavum_status cavum_coldtest_setup_take(cavum_coldtest_setup *full,
                                       const cavum_coldtest_setup *given, cavum_error *error) {
  return cavum_sized_take(full, given, &SETUP, error);
}

void cavum_coldtest_setup_give(cavum_coldtest_setup *given, const cavum_coldtest_setup *full) {
  cavum_sized_give(given, given->struct_size, full, &SETUP);
}

void cavum_coldtest_setup_set_defaults(cavum_coldtest_setup *given, size_t struct_size) {
  if (!given) return;
  cavum_coldtest_setup setup = {.coupling = CAVUM_COUPLING_AUTO,
                                .branch = CAVUM_BRANCH_DECIDE,
                                .q0_method = CAVUM_Q0_AUTO,
                                .coverage = 0.95,
                                .seed = 20240229,
                                .digits = 2,
                                .max_draws = 4000000};
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    setup.channels[channel].chain = channel;
  }
  // The emitted power comes back through the coupler and meter of the reflected power.
  setup.channels[CAVUM_CHANNEL_EMITTED].chain = CAVUM_CHANNEL_REFLECTED;
  cavum_sized_give(given, struct_size, &setup, &SETUP);
}

cavum_coldtest_reading cavum_coldtest_reading_empty(void) {
  cavum_coldtest_reading reading = {.decay_time_s = NAN,
                                    .frequency_hz = NAN,
                                    .bath_temperature_k = NAN,
                                    .radiation_sv_per_h = NAN,
                                    .bath_pressure_pa = NAN};
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) reading.power_w[channel] = NAN;
  return reading;
}

void cavum_coldtest_readings_clear(cavum_coldtest_readings *readings) {
  if (!readings) return;
  free(readings->items);
  free(readings->set_aside);
  free(readings->notes);
  free(readings->text);
  *readings = (cavum_coldtest_readings){0};
}

cavum_status cavum_coldtest_set_row_aside(cavum_coldtest_readings *readings, int64_t line,
                                          const char *reason, cavum_error *error) {
  void *grown = readings->set_aside;
  // Doubling from the count alone: the struct is public and keeps no capacity.
  int64_t count = readings->num_set_aside;
  if ((count & (count - 1)) == 0) {
    int64_t capacity = count;
    if (!cavum_grow(&grown, &capacity, count > 0 ? 2 * count : 1, sizeof *readings->set_aside)) {
      return cavum_fail_memory(error);
    }
    readings->set_aside = grown;
  }
  cavum_coldtest_set_aside *row = &readings->set_aside[count];
  row->line = line;
  snprintf(row->reason, sizeof row->reason, "%.511s", reason);
  readings->num_set_aside++;
  return CAVUM_OK;
}

static bool is_relative(double value) { return value >= 0.0 && value < 1.0; }
static bool is_size(double value) { return value >= 0.0 && isfinite(value); }

static bool estimate_is_valid(const cavum_estimate *estimate, bool needed) {
  if (!is_size(estimate->uncertainty) || !is_size(estimate->value)) return false;
  if (estimate->value == 0.0) return !needed;
  return estimate->uncertainty < estimate->value;
}

static cavum_status check_channels(const cavum_coldtest_setup *setup, cavum_error *error) {
  for (int i = 0; i < CAVUM_NUM_CHANNELS; i++) {
    const cavum_coldtest_channel *channel = &setup->channels[i];
    if (channel->chain < 0 || channel->chain >= CAVUM_NUM_CHANNELS ||
        setup->channels[channel->chain].chain != channel->chain) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "channel %d: its chain must be a channel with a chain of its own", i);
    }
    if (!isfinite(channel->attenuation_db) || fabs(channel->attenuation_db) > 300.0 ||
        !is_size(channel->attenuation_uncertainty_db) || !is_relative(channel->gain_uncertainty) ||
        !isfinite(channel->zero_w) || !is_size(channel->zero_uncertainty_w) ||
        !is_relative(channel->noise)) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "channel %d: attenuation within 300 dB, uncertainties not below 0 and "
                        "relative ones below 1 were expected",
                        i);
    }
  }
  return CAVUM_OK;
}

/** A number of a setup: from 0, below `most` or, where that is one of them, up to it. */
typedef struct setup_row {
  const char *name;
  size_t offset;
  double most;  // INFINITY: any finite number
} setup_row;

#define SETUP_ROW(member, most) \
  { #member, offsetof(cavum_coldtest_setup, member), most }

static cavum_status check_numbers(const cavum_coldtest_setup *setup, cavum_error *error) {
  static const setup_row rows[] = {SETUP_ROW(frequency_hz, INFINITY),
                                   SETUP_ROW(frequency_uncertainty, 1.0),
                                   SETUP_ROW(common_gain_uncertainty, 1.0),
                                   SETUP_ROW(input_line_loss_db, LARGEST_LOSS_DB),
                                   SETUP_ROW(input_line_uncertainty_db, INFINITY),
                                   SETUP_ROW(directivity_db, INFINITY),
                                   SETUP_ROW(forward_directivity_db, INFINITY),
                                   SETUP_ROW(circulator_return_loss_db, INFINITY),
                                   SETUP_ROW(loop_phase_uncertainty_rad, LARGEST_PHASE_RAD),
                                   SETUP_ROW(decay_uncertainty, 1.0),
                                   SETUP_ROW(decay_noise, 1.0),
                                   SETUP_ROW(temperature_uncertainty_k, INFINITY),
                                   SETUP_ROW(temperature_common_k, INFINITY)};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    double value;
    memcpy(&value, (const char *)setup + rows[i].offset, sizeof value);
    bool below = rows[i].most == 1.0 ? value < 1.0 : value <= rows[i].most;
    if (is_size(value) && below) continue;
    if (isinf(rows[i].most)) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "setup: %s is %g, expected 0 or more", rows[i].name,
                        value);
    }
    return cavum_fail(error, CAVUM_ERR_INPUT, "setup: %s is %g, expected 0 to %s%g", rows[i].name,
                      value, rows[i].most == 1.0 ? "below " : "", rows[i].most);
  }
  return CAVUM_OK;
}

static cavum_status check_choice(const char *name, int value, int most, cavum_error *error) {
  if (value >= 0 && value <= most) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "setup: %s is %d, expected 0 to %d", name, value, most);
}

#define ESTIMATE_ROW(member) \
  { #member ".distribution", &setup->member }

static cavum_status check_choices(const cavum_coldtest_setup *setup, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *name;
    const cavum_estimate *estimate;
  } rows[] = {ESTIMATE_ROW(r_over_q_linac_ohm),
              ESTIMATE_ROW(accelerating_length_m),
              ESTIMATE_ROW(geometry_factor_ohm),
              ESTIMATE_ROW(epk_over_eacc),
              ESTIMATE_ROW(bpk_over_eacc_t_per_v_per_m),
              ESTIMATE_ROW(static_heat_w),
              ESTIMATE_ROW(q_pickup),
              ESTIMATE_ROW(q_external)};
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    CAVUM_TRY(check_choice(rows[i].name, (int)rows[i].estimate->distribution,
                           CAVUM_DISTRIBUTION_ARCSINE, error));
  }
  CAVUM_TRY(check_choice("coupling", (int)setup->coupling, CAVUM_COUPLING_AUTO, error));
  CAVUM_TRY(check_choice("branch", (int)setup->branch, CAVUM_BRANCH_UNDER, error));
  CAVUM_TRY(check_choice("q0_method", (int)setup->q0_method, CAVUM_Q0_PICKUP, error));
  CAVUM_TRY(check_choice("num_limits", setup->num_limits, CAVUM_MAX_LIMITS, error));
done:
  return status;
}

static cavum_status check_setup(const cavum_coldtest_setup *setup, cavum_error *error) {
  if (!estimate_is_valid(&setup->r_over_q_linac_ohm, true) ||
      !estimate_is_valid(&setup->accelerating_length_m, true)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "R/Q and accelerating length: positive numbers, larger than their "
                      "uncertainties, were expected");
  }
  if (!estimate_is_valid(&setup->geometry_factor_ohm, false) ||
      !estimate_is_valid(&setup->epk_over_eacc, false) ||
      !estimate_is_valid(&setup->bpk_over_eacc_t_per_v_per_m, false) ||
      !estimate_is_valid(&setup->static_heat_w, false) ||
      !estimate_is_valid(&setup->q_pickup, false) ||
      !estimate_is_valid(&setup->q_external, false)) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "G, E_pk/E_acc, B_pk/E_acc, Q_t, Q_e, static heat: where given, positive numbers larger "
        "than their uncertainties were expected");
  }
  cavum_status status = check_numbers(setup, error);
  if (status == CAVUM_OK) status = check_choices(setup, error);
  if (status != CAVUM_OK) return status;
  if (!(setup->coverage > 0.0 && setup->coverage < 1.0) || setup->digits < 1 || setup->digits > 2 ||
      setup->max_draws < 1) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "statistics: coverage between 0 and 1, one or two digits and at least one "
                      "draw were expected");
  }
  if (setup->num_extra < 0 || setup->num_extra > CAVUM_MAX_EXTRA) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%d extra ports: 0 to %d were expected",
                      setup->num_extra, CAVUM_MAX_EXTRA);
  }
  return check_channels(setup, error);
}

static void set_estimate(cavum_coldtest_inputs *inputs, cavum_coldtest_input input,
                         const cavum_estimate *estimate) {
  inputs->uncertainty[input] =
      estimate->value > 0.0 ? estimate->uncertainty / estimate->value : 0.0;
  inputs->distribution[input] = estimate->distribution;
}

static double amplitude_from_db(double decibels) {
  return decibels > 0.0 ? pow(10.0, -decibels / 20.0) : 0.0;
}

cavum_status cavum_coldtest_make_inputs(cavum_coldtest_inputs *inputs,
                                        const cavum_coldtest_setup *setup, cavum_error *error) {
  cavum_status status = check_setup(setup, error);
  if (status != CAVUM_OK) return status;
  memset(inputs, 0, sizeof *inputs);
  double *u = inputs->uncertainty;
  u[CAVUM_INPUT_COMMON_GAIN] = setup->common_gain_uncertainty;
  u[CAVUM_INPUT_INPUT_LINE] = setup->input_line_uncertainty_db;
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    const cavum_coldtest_channel *chain = &setup->channels[channel];
    u[CAVUM_INPUT_GAIN_FORWARD + channel] = chain->gain_uncertainty;
    u[CAVUM_INPUT_CABLE_FORWARD + channel] = chain->attenuation_uncertainty_db;
    u[CAVUM_INPUT_ZERO_FORWARD + channel] = chain->zero_uncertainty_w;
    u[CAVUM_INPUT_NOISE_FORWARD + channel] = chain->noise;
    inputs->factor[channel] = cavum_coldtest_channel_factor(setup, channel);
  }
  u[CAVUM_INPUT_LOOP_PHASE] = setup->loop_phase_uncertainty_rad;
  inputs->coverage_factor = cavum_coldtest_coverage_factor(setup->coverage);
  double phase = inputs->coverage_factor * u[CAVUM_INPUT_LOOP_PHASE];
  inputs->detuning = tan(cavum_min(phase, LARGEST_EXPANDED_PHASE_RAD));
  u[CAVUM_INPUT_DECAY] = setup->decay_uncertainty;
  u[CAVUM_INPUT_NOISE_DECAY] = setup->decay_noise;
  u[CAVUM_INPUT_FREQUENCY] = setup->frequency_uncertainty;
  // The cosine of a phase that is not known has the standard deviation 1/sqrt(2) [JCGM100] 4.3.
  // Seen from the cavity the leak stands for a larger reflection, since a true one passes the input
  // line twice; what leaks into the forward meter and what the circulator sends back passes it
  // twice itself.
  double line = exp(CAVUM_NEPER_PER_DB * setup->input_line_loss_db);
  inputs->leak_amplitude = line * amplitude_from_db(setup->directivity_db);
  inputs->forward_leak_amplitude = amplitude_from_db(setup->forward_directivity_db) / line;
  inputs->circulator_amplitude = amplitude_from_db(setup->circulator_return_loss_db) / line;
  u[CAVUM_INPUT_DIRECTIVITY] = inputs->leak_amplitude > 0.0 ? sqrt(0.5) : 0.0;
  u[CAVUM_INPUT_FORWARD_DIRECTIVITY] = inputs->forward_leak_amplitude > 0.0 ? sqrt(0.5) : 0.0;
  u[CAVUM_INPUT_CIRCULATOR] = inputs->circulator_amplitude > 0.0 ? sqrt(0.5) : 0.0;
  inputs->distribution[CAVUM_INPUT_DIRECTIVITY] = CAVUM_DISTRIBUTION_ARCSINE;
  inputs->distribution[CAVUM_INPUT_FORWARD_DIRECTIVITY] = CAVUM_DISTRIBUTION_ARCSINE;
  inputs->distribution[CAVUM_INPUT_CIRCULATOR] = CAVUM_DISTRIBUTION_ARCSINE;
  set_estimate(inputs, CAVUM_INPUT_R_OVER_Q, &setup->r_over_q_linac_ohm);
  set_estimate(inputs, CAVUM_INPUT_LENGTH, &setup->accelerating_length_m);
  set_estimate(inputs, CAVUM_INPUT_GEOMETRY_FACTOR, &setup->geometry_factor_ohm);
  set_estimate(inputs, CAVUM_INPUT_EPK_OVER_EACC, &setup->epk_over_eacc);
  set_estimate(inputs, CAVUM_INPUT_BPK_OVER_EACC, &setup->bpk_over_eacc_t_per_v_per_m);
  set_estimate(inputs, CAVUM_INPUT_STATIC_HEAT, &setup->static_heat_w);
  set_estimate(inputs, CAVUM_INPUT_PICKUP, &setup->q_pickup);
  set_estimate(inputs, CAVUM_INPUT_EXTERNAL, &setup->q_external);
  return CAVUM_OK;
}

cavum_dual cavum_coldtest_figure(const cavum_estimate *estimate, cavum_coldtest_input input) {
  cavum_dual figure = cavum_dual_constant(estimate->value);
  figure.part[input] = estimate->uncertainty;
  return figure;
}

double cavum_coldtest_coverage_factor(double coverage) {
  return gsl_cdf_ugaussian_Pinv(0.5 * (1.0 + coverage));
}
