// SPDX-License-Identifier: GPL-3.0-or-later
// From meters to cavity ports: zero, gain, cables, input line, with the part of every input.
//
//   P_cavity = (P_meter - zero) 10^(A/10) (1 + common + gain + reading),  in dB: A + cable -+ line
#include <stdio.h>

#include "coldtest/coldtest_private.h"

// A reflected power that reads below the zero of its meter by up to this many standard
// uncertainties of that zero is taken as none.
static const double ZERO_TOLERANCE = 3.0;
// Meters write numbers such as 9.9e37 when they are out of range.
static const double OVERRANGE_W = 1e30;

void cavum_reading_place_text(char text[300], const cavum_reading_place *place) {
  if (place->line > 0) {
    snprintf(text, 300, "%s:%lld", place->file, (long long)place->line);
  } else {
    snprintf(text, 300, "reading %lld", (long long)place->index + 1);
  }
}

double cavum_coldtest_line_sign(int channel) {
  if (channel == CAVUM_CHANNEL_FORWARD) return -1.0;
  bool outward = channel == CAVUM_CHANNEL_REFLECTED || channel == CAVUM_CHANNEL_EMITTED;
  return outward ? 1.0 : 0.0;
}

double cavum_coldtest_channel_factor(const cavum_coldtest_setup *setup, int channel) {
  const cavum_coldtest_channel *chain = &setup->channels[setup->channels[channel].chain];
  double decibels =
      chain->attenuation_db + cavum_coldtest_line_sign(channel) * setup->input_line_loss_db;
  return exp(CAVUM_NEPER_PER_DB * decibels);
}

double cavum_coldtest_net_power_w(const cavum_coldtest_setup *setup, int channel, double power_w) {
  const cavum_coldtest_channel *chain = &setup->channels[setup->channels[channel].chain];
  double net_w = power_w - chain->zero_w;
  bool may_vanish = channel == CAVUM_CHANNEL_REFLECTED || channel >= CAVUM_CHANNEL_EXTRA;
  if (may_vanish && net_w < 0.0 && net_w >= -ZERO_TOLERANCE * chain->zero_uncertainty_w) return 0.0;
  return net_w;
}

static cavum_dual cavity_power(const cavum_coldtest_setup *setup,
                               const cavum_coldtest_inputs *inputs, int channel, double net_w) {
  const double *u = inputs->uncertainty;
  int chain = setup->channels[channel].chain;
  double factor = inputs->factor[channel];
  cavum_dual power = cavum_dual_constant(net_w * factor);
  double per_db = CAVUM_NEPER_PER_DB * power.value;
  power.part[CAVUM_INPUT_COMMON_GAIN] = power.value * u[CAVUM_INPUT_COMMON_GAIN];
  power.part[CAVUM_INPUT_GAIN_FORWARD + chain] = power.value * u[CAVUM_INPUT_GAIN_FORWARD + chain];
  power.part[CAVUM_INPUT_CABLE_FORWARD + chain] = per_db * u[CAVUM_INPUT_CABLE_FORWARD + chain];
  power.part[CAVUM_INPUT_ZERO_FORWARD + chain] = -factor * u[CAVUM_INPUT_ZERO_FORWARD + chain];
  power.part[CAVUM_INPUT_INPUT_LINE] =
      cavum_coldtest_line_sign(channel) * per_db * u[CAVUM_INPUT_INPUT_LINE];
  power.part[CAVUM_INPUT_NOISE_FORWARD + channel] =
      power.value * u[CAVUM_INPUT_NOISE_FORWARD + channel];
  // After switch-off the coupler carries what the circulator sends back as well: P_e is off by the
  // factor that the rate of the decay through the coupler is off by.
  if (channel == CAVUM_CHANNEL_EMITTED) {
    power.part[CAVUM_INPUT_CIRCULATOR] =
        -2.0 * inputs->circulator_amplitude * power.value * u[CAVUM_INPUT_CIRCULATOR];
  }
  return power;
}

static cavum_status calibrate_channel(cavum_calibrated *calibrated,
                                      const cavum_coldtest_setup *setup,
                                      const cavum_coldtest_inputs *inputs, int channel,
                                      double power_w, const cavum_reading_place *place,
                                      cavum_error *error) {
  char where[300];
  double net_w = cavum_coldtest_net_power_w(setup, channel, power_w);
  bool may_vanish = channel == CAVUM_CHANNEL_REFLECTED || channel >= CAVUM_CHANNEL_EXTRA;
  if (isfinite(power_w) && fabs(power_w) > OVERRANGE_W) {
    cavum_reading_place_text(where, place);
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: %s power of %g W: the mark of a meter out of range, no reading", where,
                      cavum_coldtest_channel_name(setup, channel), power_w);
  }
  if (!isfinite(power_w) || !(may_vanish ? net_w >= 0.0 : net_w > 0.0)) {
    cavum_reading_place_text(where, place);
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: %s power of %g W (meter zero %g W): a power %s was expected", where,
                      cavum_coldtest_channel_name(setup, channel), power_w,
                      setup->channels[setup->channels[channel].chain].zero_w,
                      may_vanish ? "not below 0" : "above 0");
  }
  // sqrt(P_r) = 0 would be known exactly: critical coupling without any uncertainty.
  bool exact = channel == CAVUM_CHANNEL_REFLECTED && net_w == 0.0 &&
               setup->channels[setup->channels[channel].chain].zero_uncertainty_w == 0.0;
  if (exact) {
    cavum_reading_place_text(where, place);
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: reflected power of exactly 0 W, and no uncertainty of its zero: state one, "
        "or leave the cell empty",
        where);
  }
  calibrated->has[channel] = true;
  calibrated->power[channel] = cavity_power(setup, inputs, channel, net_w);
  return CAVUM_OK;
}

static cavum_status calibrate_times(cavum_calibrated *calibrated, const cavum_coldtest_setup *setup,
                                    const cavum_coldtest_inputs *inputs,
                                    const cavum_coldtest_reading *reading,
                                    const cavum_reading_place *place, cavum_error *error) {
  char where[300];
  double length_m = setup->accelerating_length_m.value;
  double frequency_hz = isnan(reading->frequency_hz) ? setup->frequency_hz : reading->frequency_hz;
  if (!(frequency_hz > 0.0) || !isfinite(frequency_hz)) {
    cavum_reading_place_text(where, place);
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: no frequency: a positive one was expected in the reading or the setup",
                      where);
  }
  if (!cavum_coldtest_length_fits(length_m, frequency_hz)) {
    cavum_reading_place_text(where, place);
    return cavum_coldtest_check_length(length_m, frequency_hz, where, error);
  }
  calibrated->omega = cavum_dual_constant(2.0 * CAVUM_PI * frequency_hz);
  calibrated->omega.part[CAVUM_INPUT_FREQUENCY] =
      calibrated->omega.value * inputs->uncertainty[CAVUM_INPUT_FREQUENCY];
  calibrated->has_decay = !isnan(reading->decay_time_s);
  if (!calibrated->has_decay) return CAVUM_OK;
  if (!(reading->decay_time_s > 0.0) || !isfinite(reading->decay_time_s)) {
    cavum_reading_place_text(where, place);
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s: decay time of %g s: a positive number was expected", where,
                      reading->decay_time_s);
  }
  cavum_dual tau = cavum_dual_constant(reading->decay_time_s);
  tau.part[CAVUM_INPUT_DECAY] = tau.value * inputs->uncertainty[CAVUM_INPUT_DECAY];
  tau.part[CAVUM_INPUT_NOISE_DECAY] = tau.value * inputs->uncertainty[CAVUM_INPUT_NOISE_DECAY];
  calibrated->decay_time_s = tau;
  return CAVUM_OK;
}

cavum_status cavum_coldtest_calibrate(cavum_calibrated *calibrated,
                                      const cavum_coldtest_setup *setup,
                                      const cavum_coldtest_inputs *inputs,
                                      const cavum_coldtest_reading *reading,
                                      const cavum_reading_place *place, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int num_channels = CAVUM_CHANNEL_EXTRA + setup->num_extra;
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) calibrated->has[channel] = false;
  for (int channel = 0; channel < num_channels; channel++) {
    if (isnan(reading->power_w[channel])) {
      if (channel != CAVUM_CHANNEL_FORWARD && channel < CAVUM_CHANNEL_EXTRA) continue;
      char where[300];
      cavum_reading_place_text(where, place);
      return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no %s power: every reading needs it", where,
                        cavum_coldtest_channel_name(setup, channel));
    }
    CAVUM_TRY(calibrate_channel(calibrated, setup, inputs, channel, reading->power_w[channel],
                                place, error));
  }
  CAVUM_TRY(calibrate_times(calibrated, setup, inputs, reading, place, error));
done:
  return status;
}
