// SPDX-License-Identifier: GPL-3.0-or-later
// A cavity as travelling waves see it, and the imperfect instruments around it: what the meters of
// a cold test show. It shares no line with the inversion that it tests.
//
// The cavity's amplitude a, |a|^2 = U, obeys da/dt = (-w/(2 Q_L) + j D) a + sqrt(w/Q_e) s_in and
// answers s_out = -s_in + sqrt(w/Q_e) a (coupled modes in time, Haus, Waves and Fields in
// Optoelectronics, 1984, ch. 7, not checked against the source). On its way: a line of some loss, a
// directional coupler that leaks, a circulator that sends part of the emitted wave back, cables,
// and meters with gain, zero and noise. Errors say by how much the true instrument differs from the
// stated one.
#ifndef CAVUM_TEST_WAVE_MODEL_H
#define CAVUM_TEST_WAVE_MODEL_H

#include <complex.h>

#include "base/base.h"
#include "cavum/coldtest_series.h"
#include "support.h"

/** A cavity; its 1/Q0 = (1 + slope U)/q0 may rise with the stored energy. */
typedef struct wave_cavity {
  double frequency_hz, q0, slope_per_j, q_external, q_pickup;
  double q_extra;  /**< One extra port; 0: none. */
  double detuning; /**< Of the drive, in half bandwidths. */
} wave_cavity;

/** True less stated, or what one reading adds. All 0: perfect instruments. */
typedef struct wave_errors {
  double common_gain;                  /**< Relative, of the factor from reading to power. */
  double line_db;                      /**< Of the input line. */
  double gain[CAVUM_NUM_CHANNELS];     /**< Relative, by chain. */
  double cable_db[CAVUM_NUM_CHANNELS]; /**< By chain. */
  double zero_w[CAVUM_NUM_CHANNELS];   /**< By chain. */
  double noise[CAVUM_NUM_CHANNELS];    /**< Relative, of this reading. */
  double complex leak;                 /**< Of the forward wave into the reflected meter. */
  double complex forward_leak;         /**< Of the reflected wave into the forward meter. */
  double complex circulator;           /**< Reflection of the circulator. */
  double time_base, decay_noise;       /**< Relative. */
  double frequency;                    /**< Relative. */
} wave_errors;

static inline double wave_omega(const wave_cavity *c) { return 2.0 * CAVUM_PI * c->frequency_hz; }

static inline double wave_q0(const wave_cavity *c, double energy_j) {
  return c->q0 / (1.0 + c->slope_per_j * energy_j);
}

static inline double wave_loaded(const wave_cavity *c, double energy_j) {
  double extra = c->q_extra > 0.0 ? 1.0 / c->q_extra : 0.0;
  double pickup = c->q_pickup > 0.0 ? 1.0 / c->q_pickup : 0.0;
  return 1.0 / (1.0 / wave_q0(c, energy_j) + 1.0 / c->q_external + pickup + extra);
}

static inline double wave_power(double complex amplitude) {
  return creal(amplitude * conj(amplitude));
}

/** Meter reading of a power at the directional coupler or port: stated factor, true factor. */
static inline double wave_meter_w(const cavum_coldtest_setup *setup, int channel, double power_w,
                                  const wave_errors *e) {
  int chain = setup->channels[channel].chain;
  double decibels = setup->channels[chain].attenuation_db + e->cable_db[chain];
  double factor =
      pow(10.0, decibels / 10.0) * (1.0 + e->common_gain + e->gain[chain] + e->noise[channel]);
  return power_w / factor + setup->channels[chain].zero_w + e->zero_w[chain];
}

/** Amplitude factor of the true input line. */
static inline double wave_line(const cavum_coldtest_setup *setup, const wave_errors *e) {
  return pow(10.0, -(setup->input_line_loss_db + e->line_db) / 20.0);
}

// The circulator stands behind the line, so what it sends back has passed the line twice.
static inline double complex wave_returned(const cavum_coldtest_setup *setup,
                                           const wave_errors *e) {
  double line = wave_line(setup, e);
  return e->circulator * line * line;
}

// dU/dt after switch-off. With s_in = g s_out, s_out = sqrt(w/Q_e) a / (1 + g).
static inline double wave_slope_w(const wave_cavity *c, double energy_j, double complex g) {
  double omega = wave_omega(c);
  double back = 2.0 * creal(g / (1.0 + g)) / c->q_external;
  return -omega * energy_j * (1.0 / wave_loaded(c, energy_j) - back);
}

/** One step of the classical Runge-Kutta method along a decay. */
static inline double wave_step_j(const wave_cavity *c, double energy_j, double step_s,
                                 double complex g) {
  double k1 = wave_slope_w(c, energy_j, g);
  double k2 = wave_slope_w(c, energy_j + 0.5 * step_s * k1, g);
  double k3 = wave_slope_w(c, energy_j + 0.5 * step_s * k2, g);
  double k4 = wave_slope_w(c, energy_j + step_s * k3, g);
  return energy_j + step_s * (k1 + 2.0 * k2 + 2.0 * k3 + k4) / 6.0;
}

/** The decay time that an exponential through the first hundredth of it shows, true seconds. */
static inline double wave_decay_time_s(const wave_cavity *c, double energy_j, double complex g) {
  double span_s = 1e-2 * wave_loaded(c, energy_j) / wave_omega(c), energy = energy_j;
  for (int i = 0; i < 8; i++) energy = wave_step_j(c, energy, span_s / 8.0, g);
  return span_s / log(energy_j / energy);
}

/** What is read at a stored energy. */
enum { WAVE_REFLECTED = 1, WAVE_TRANSMITTED = 2, WAVE_EMITTED = 4, WAVE_DECAY = 8 };

static inline cavum_coldtest_reading wave_reading(const cavum_coldtest_setup *setup,
                                                  const wave_cavity *c, double energy_j, int what,
                                                  const wave_errors *e) {
  cavum_coldtest_reading reading = cavum_coldtest_reading_empty();
  double omega = wave_omega(c), line = wave_line(setup, e), root = sqrt(omega / c->q_external);
  double half = 0.5 * omega / wave_loaded(c, energy_j);
  double complex a = sqrt(energy_j), g = wave_returned(setup, e);
  double complex in = a * half * (1.0 - I * c->detuning) / root, out = root * a - in;
  double complex forward = in / line, reflected = out * line + e->leak * forward;
  double complex emitted = line * root * a / (1.0 + g);
  double complex shown_forward = forward + e->forward_leak * out * line;
  reading.power_w[CAVUM_CHANNEL_FORWARD] =
      wave_meter_w(setup, CAVUM_CHANNEL_FORWARD, wave_power(shown_forward), e);
  if (what & WAVE_REFLECTED) {
    reading.power_w[CAVUM_CHANNEL_REFLECTED] =
        wave_meter_w(setup, CAVUM_CHANNEL_REFLECTED, wave_power(reflected), e);
  }
  if (what & WAVE_TRANSMITTED) {
    reading.power_w[CAVUM_CHANNEL_TRANSMITTED] =
        wave_meter_w(setup, CAVUM_CHANNEL_TRANSMITTED, omega * energy_j / c->q_pickup, e);
  }
  if (what & WAVE_EMITTED) {
    reading.power_w[CAVUM_CHANNEL_EMITTED] =
        wave_meter_w(setup, CAVUM_CHANNEL_EMITTED, wave_power(emitted), e);
  }
  if (c->q_extra > 0.0) {
    reading.power_w[CAVUM_CHANNEL_EXTRA] =
        wave_meter_w(setup, CAVUM_CHANNEL_EXTRA, omega * energy_j / c->q_extra, e);
  }
  if (what & WAVE_DECAY) {
    reading.decay_time_s =
        wave_decay_time_s(c, energy_j, g) / (1.0 + e->time_base + e->decay_noise);
  }
  reading.frequency_hz = c->frequency_hz / (1.0 + e->frequency);
  return reading;
}

/** A recorded decay; noise of single samples is the caller's to add. Release the trace. */
static inline cavum_decay_trace wave_trace(const cavum_coldtest_setup *setup, const wave_cavity *c,
                                           double energy_j, int count, double span_s,
                                           const wave_errors *e) {
  enum { SUBSTEPS = 4 };
  cavum_decay_trace trace = {.num_samples = count, .file = "trace"};
  trace.time_s = malloc((size_t)count * sizeof(double));
  trace.transmitted_w = malloc((size_t)count * sizeof(double));
  double complex g = wave_returned(setup, e);
  double step_s = span_s / (count - 1);
  for (int i = 0; i < count; i++) {
    trace.time_s[i] = i * step_s / (1.0 + e->time_base);
    trace.transmitted_w[i] =
        wave_meter_w(setup, CAVUM_CHANNEL_TRANSMITTED, wave_omega(c) * energy_j / c->q_pickup, e);
    for (int k = 0; k < SUBSTEPS; k++) energy_j = wave_step_j(c, energy_j, step_s / SUBSTEPS, g);
  }
  return trace;
}

#endif
