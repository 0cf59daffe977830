// SPDX-License-Identifier: GPL-3.0-or-later
// Draws for the Monte Carlo propagation: the calibration of port_power.c and the inversion of
// inversion.c once more, on whole chunks of plain numbers; a test holds both ways together.
//
// The model is that of the linear propagation without its linearity: relative errors of one reading
// add, dB errors are exact powers of ten, phases are drawn as phases.
#include "coldtest/draws.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>

#include "base/alone.h"

/** One reading's chunk at the cavity ports. */
typedef struct ports {
  double power_w[CAVUM_NUM_CHANNELS][CAVUM_CHUNK];
  double decay_time_s[CAVUM_CHUNK];
} ports;

struct cavum_draw_source {
  const cavum_coldtest *test;
  int64_t index;
  const unsigned char *branches;  // Of the readings with a decay time, in the current chunk.
  cavum_branch branch;            // Of this point, likewise.
  int64_t num_chunks;
  gsl_rng *rng;                           // Owned.
  double gain_scale[CAVUM_NUM_CHANNELS];  // u of the gain, with the reading's where merged.
  bool merged[CAVUM_NUM_CHANNELS];        // The reading's error is in the gain's draw.
  bool in_use[CAVUM_NUM_INPUTS];
  double draws[CAVUM_NUM_INPUTS][CAVUM_CHUNK];  // Standardised.
  double q_pickup[CAVUM_CHUNK];
  ports reading;
};

static bool by_decay(const cavum_draw_source *s, int64_t index) {
  return cavum_coldtest_reading_by_decay(&s->test->setup, &s->test->readings.items[index]);
}

static bool channel_present(const cavum_draw_source *s, int64_t index, int channel) {
  return channel < CAVUM_CHANNEL_EXTRA + s->test->setup.num_extra &&
         !isnan(s->test->readings.items[index].power_w[channel]);
}

// Gain errors and reading errors are both normal and both relative, so where one draw of the gain
// serves a single reading their sum is one normal draw.
static void merge_readings(cavum_draw_source *s) {
  const double *u = s->test->inputs.uncertainty;
  bool alone = by_decay(s, s->index);
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    int users = 0;
    for (int other = 0; other < CAVUM_NUM_CHANNELS; other++) {
      bool same = s->test->setup.channels[other].chain == s->test->setup.channels[channel].chain;
      users += same && channel_present(s, s->index, other);
    }
    bool own = s->test->setup.channels[channel].chain == channel;
    s->merged[channel] = alone && own && users == 1 && channel_present(s, s->index, channel);
    double gain = u[CAVUM_INPUT_GAIN_FORWARD + channel];
    s->gain_scale[channel] =
        s->merged[channel] ? hypot(gain, u[CAVUM_INPUT_NOISE_FORWARD + channel]) : gain;
  }
}

static void mark_channel(cavum_draw_source *s, int64_t index, int channel) {
  const double *u = s->test->inputs.uncertainty;
  if (!channel_present(s, index, channel)) return;
  int chain = s->test->setup.channels[channel].chain;
  s->in_use[CAVUM_INPUT_GAIN_FORWARD + chain] = s->gain_scale[chain] > 0.0;
  s->in_use[CAVUM_INPUT_CABLE_FORWARD + chain] = u[CAVUM_INPUT_CABLE_FORWARD + chain] > 0.0;
  s->in_use[CAVUM_INPUT_ZERO_FORWARD + chain] = u[CAVUM_INPUT_ZERO_FORWARD + chain] > 0.0;
}

static void mark_inputs(cavum_draw_source *s) {
  const double *u = s->test->inputs.uncertainty;
  const int always[] = {CAVUM_INPUT_COMMON_GAIN,    CAVUM_INPUT_INPUT_LINE,
                        CAVUM_INPUT_DIRECTIVITY,    CAVUM_INPUT_FORWARD_DIRECTIVITY,
                        CAVUM_INPUT_LOOP_PHASE,     CAVUM_INPUT_CIRCULATOR,
                        CAVUM_INPUT_DECAY,          CAVUM_INPUT_FREQUENCY,
                        CAVUM_INPUT_R_OVER_Q,       CAVUM_INPUT_LENGTH,
                        CAVUM_INPUT_GEOMETRY_FACTOR};
  for (size_t i = 0; i < sizeof always / sizeof *always; i++) {
    s->in_use[always[i]] = u[always[i]] > 0.0;
  }
  bool pickup = !by_decay(s, s->index);
  const cavum_coldtest_calibrations *from = &s->test->main;
  bool stated = from->num_calibrating == 0;
  s->in_use[CAVUM_INPUT_PICKUP] = pickup && stated && u[CAVUM_INPUT_PICKUP] > 0.0;
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    mark_channel(s, s->index, channel);
    for (int64_t i = 0; pickup && i < from->num_calibrating; i++) {
      mark_channel(s, from->calibrating[i], channel);
    }
  }
}

static cavum_branch opposite_of(cavum_branch branch) {
  return branch == CAVUM_BRANCH_OVER ? CAVUM_BRANCH_UNDER : CAVUM_BRANCH_OVER;
}

// Where a branch is open, chunks are on each side as often as it is probable: their numbers times
// the golden ratio fall everywhere between 0 and 1 alike.
static void set_branches(cavum_draw_source *s) {
  const cavum_decided_branches *decided = &s->test->decided;
  double place = fmod(0.61803398874989485 * (double)s->num_chunks, 1.0), sum = 0.0;
  s->branch = s->test->points[s->index].branch;
  s->branches = decided->branch;
  if (by_decay(s, s->index)) {
    if (place > 1.0 - (double)decided->other_weight[s->index]) s->branch = opposite_of(s->branch);
    return;
  }
  for (int i = 0; i < decided->num_alternatives; i++) {
    sum += decided->weight[i];
    if (!(place > 1.0 - sum)) continue;
    s->branches = decided->alternative + i * s->test->readings.num_readings;
    return;
  }
}

cavum_status cavum_draw_source_create(cavum_draw_source **source, const cavum_coldtest *test,
                                      int64_t index, cavum_error *error) {
  cavum_draw_source *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->test = test;
  made->index = index;
  // GSL's default handler would end the process when memory is short.
  cavum_alone_enter(CAVUM_ALONE_GSL);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  made->rng = gsl_rng_alloc(gsl_rng_taus2);
  gsl_set_error_handler(handler);
  cavum_alone_leave(CAVUM_ALONE_GSL);
  if (!made->rng) {
    free(made);
    return cavum_fail_memory(error);
  }
  // Neighbouring points get unrelated seeds (the finaliser of a 64-bit hash [Steele2014]).
  uint64_t mixed = test->setup.seed + 0x9E3779B97F4A7C15u * ((uint64_t)index + 1u);
  mixed = (mixed ^ (mixed >> 30)) * 0xBF58476D1CE4E5B9u;
  mixed = (mixed ^ (mixed >> 27)) * 0x94D049BB133111EBu;
  gsl_rng_set(made->rng, (unsigned long)((mixed ^ (mixed >> 31)) & 0xFFFFFFFFu));
  merge_readings(made);
  mark_inputs(made);
  *source = made;
  return CAVUM_OK;
}

void cavum_draw_source_destroy(cavum_draw_source **source) {
  if (!source || !*source) return;
  gsl_rng_free((*source)->rng);
  free(*source);
  *source = NULL;
}

// Standardised draws: mean 0, standard deviation 1.
static void draw(cavum_draw_source *s, cavum_coldtest_input input) {
  double *out = s->draws[input];
  switch (s->test->inputs.distribution[input]) {
    case CAVUM_DISTRIBUTION_RECTANGULAR:
      for (int i = 0; i < CAVUM_CHUNK; i++) out[i] = sqrt(12.0) * (gsl_rng_uniform(s->rng) - 0.5);
      break;
    case CAVUM_DISTRIBUTION_ARCSINE:
      for (int i = 0; i < CAVUM_CHUNK; i++) {
        out[i] = sqrt(2.0) * cos(2.0 * CAVUM_PI * gsl_rng_uniform(s->rng));
      }
      break;
    default:
      for (int i = 0; i < CAVUM_CHUNK; i++) out[i] = gsl_ran_gaussian_ziggurat(s->rng, 1.0);
  }
}

// values += scale * draws of an input, when it is in use.
static void add_scaled(double values[CAVUM_CHUNK], const cavum_draw_source *s, int input,
                       double scale) {
  if (!s->in_use[input] || scale == 0.0) return;
  const double *draws = s->draws[input];
  for (int i = 0; i < CAVUM_CHUNK; i++) values[i] += scale * draws[i];
}

static void set_all(double values[CAVUM_CHUNK], double value) {
  for (int i = 0; i < CAVUM_CHUNK; i++) values[i] = value;
}

// The same chain as in port_power.c.
static void draw_power(cavum_draw_source *s, double power_w[CAVUM_CHUNK], int channel,
                       double meter_w) {
  const double *u = s->test->inputs.uncertainty;
  const cavum_coldtest_setup *setup = &s->test->setup;
  int chain = setup->channels[channel].chain;
  int noise = CAVUM_INPUT_NOISE_FORWARD + channel, zero = CAVUM_INPUT_ZERO_FORWARD + chain;
  double factor = cavum_coldtest_channel_factor(setup, channel);
  double line = cavum_coldtest_line_sign(channel) * u[CAVUM_INPUT_INPUT_LINE];
  double relative[CAVUM_CHUNK], decibels[CAVUM_CHUNK];
  s->in_use[noise] = u[noise] > 0.0 && !s->merged[channel];
  if (s->in_use[noise]) draw(s, (cavum_coldtest_input)noise);
  set_all(relative, 1.0);
  add_scaled(relative, s, CAVUM_INPUT_COMMON_GAIN, u[CAVUM_INPUT_COMMON_GAIN]);
  add_scaled(relative, s, CAVUM_INPUT_GAIN_FORWARD + chain, s->gain_scale[chain]);
  add_scaled(relative, s, noise, u[noise]);
  double net_w = s->in_use[zero] ? meter_w - setup->channels[chain].zero_w
                                 : cavum_coldtest_net_power_w(setup, channel, meter_w);
  set_all(power_w, net_w * factor);
  add_scaled(power_w, s, zero, -u[zero] * factor);
  for (int i = 0; i < CAVUM_CHUNK; i++) power_w[i] *= relative[i];
  set_all(decibels, 0.0);
  add_scaled(decibels, s, CAVUM_INPUT_CABLE_FORWARD + chain, u[CAVUM_INPUT_CABLE_FORWARD + chain]);
  add_scaled(decibels, s, CAVUM_INPUT_INPUT_LINE, line);
  if (!s->in_use[CAVUM_INPUT_CABLE_FORWARD + chain] &&
      (line == 0.0 || !s->in_use[CAVUM_INPUT_INPUT_LINE])) {
    return;
  }
  for (int i = 0; i < CAVUM_CHUNK; i++) power_w[i] *= exp(CAVUM_NEPER_PER_DB * decibels[i]);
}

static void draw_ports(cavum_draw_source *s, int64_t index) {
  const cavum_coldtest_reading *reading = &s->test->readings.items[index];
  const double *u = s->test->inputs.uncertainty;
  for (int channel = 0; channel < CAVUM_NUM_CHANNELS; channel++) {
    if (channel_present(s, index, channel)) {
      draw_power(s, s->reading.power_w[channel], channel, reading->power_w[channel]);
    }
  }
  if (isnan(reading->decay_time_s)) return;
  s->in_use[CAVUM_INPUT_NOISE_DECAY] = u[CAVUM_INPUT_NOISE_DECAY] > 0.0;
  if (s->in_use[CAVUM_INPUT_NOISE_DECAY]) draw(s, CAVUM_INPUT_NOISE_DECAY);
  double tau = reading->decay_time_s;
  set_all(s->reading.decay_time_s, tau);
  add_scaled(s->reading.decay_time_s, s, CAVUM_INPUT_DECAY, tau * u[CAVUM_INPUT_DECAY]);
  add_scaled(s->reading.decay_time_s, s, CAVUM_INPUT_NOISE_DECAY, tau * u[CAVUM_INPUT_NOISE_DECAY]);
}

/** What does not change within a chunk. */
typedef struct chunk_plan {
  bool reflected, emitted, transmitted;
  double sign;
  // Factors of the standardised draws, 0 when not in use.
  double leak, forward_leak, circulator;
  double phase;  // Standard uncertainty of the loop phase.
  double omega, omega_scale;
  int num_channels;
  cavum_coupling_method method;
} chunk_plan;

static chunk_plan plan_chunk(const cavum_draw_source *s, int64_t index) {
  const cavum_coldtest_inputs *inputs = &s->test->inputs;
  const cavum_coldtest_reading *reading = &s->test->readings.items[index];
  cavum_branch branch = s->branch;
  cavum_coupling_method method = s->test->points[s->index].method;
  double frequency_hz =
      isnan(reading->frequency_hz) ? s->test->setup.frequency_hz : reading->frequency_hz;
  chunk_plan plan = {.reflected = channel_present(s, index, CAVUM_CHANNEL_REFLECTED),
                     .emitted = channel_present(s, index, CAVUM_CHANNEL_EMITTED),
                     .transmitted = channel_present(s, index, CAVUM_CHANNEL_TRANSMITTED),
                     .sign = branch == CAVUM_BRANCH_UNDER ? -1.0 : 1.0,
                     .leak = inputs->leak_amplitude * inputs->uncertainty[CAVUM_INPUT_DIRECTIVITY],
                     .forward_leak = inputs->forward_leak_amplitude *
                                     inputs->uncertainty[CAVUM_INPUT_FORWARD_DIRECTIVITY],
                     .circulator = 2.0 * inputs->circulator_amplitude *
                                   inputs->uncertainty[CAVUM_INPUT_CIRCULATOR],
                     .phase = inputs->uncertainty[CAVUM_INPUT_LOOP_PHASE],
                     .omega = 2.0 * CAVUM_PI * frequency_hz,
                     .omega_scale = inputs->uncertainty[CAVUM_INPUT_FREQUENCY],
                     .num_channels = CAVUM_CHANNEL_EXTRA + s->test->setup.num_extra,
                     .method = method};
  return plan;
}

static double draw_of(const cavum_draw_source *s, int input, int i) {
  return s->in_use[input] ? s->draws[input][i] : 0.0;
}

// Reflection as the meters show it, with the sign of its branch.
static double shown_reflection(const chunk_plan *plan, const cavum_draw *draw, double reflected_w) {
  if (plan->reflected) return plan->sign * sqrt(reflected_w / draw->forward_w);
  return cavum_reflection_of_emitted(sqrt(draw->emitted_w / draw->forward_w), draw->detuning);
}

static cavum_draw gather(const cavum_draw_source *s, const chunk_plan *plan, int i) {
  const ports *p = &s->reading;
  cavum_draw out = {.forward_w = p->power_w[CAVUM_CHANNEL_FORWARD][i],
                    .decay_time_s = p->decay_time_s[i]};
  out.circulator = plan->circulator * draw_of(s, CAVUM_INPUT_CIRCULATOR, i);
  out.detuning = s->in_use[CAVUM_INPUT_LOOP_PHASE]
                     ? tan(plan->phase * s->draws[CAVUM_INPUT_LOOP_PHASE][i])
                     : 0.0;
  out.transmitted_w = plan->transmitted ? p->power_w[CAVUM_CHANNEL_TRANSMITTED][i] : 0.0;
  out.emitted_w =
      plan->emitted ? p->power_w[CAVUM_CHANNEL_EMITTED][i] * (1.0 - out.circulator) : 0.0;
  for (int channel = CAVUM_CHANNEL_EXTRA; channel < plan->num_channels; channel++) {
    out.extra_w += cavum_max(p->power_w[channel][i], 0.0);
  }
  double reflected_w =
      plan->reflected ? cavum_max(p->power_w[CAVUM_CHANNEL_REFLECTED][i], 0.0) : 0.0;
  out.reflection = shown_reflection(plan, &out, reflected_w);
  if (plan->forward_leak > 0.0) {
    double leak = plan->forward_leak * draw_of(s, CAVUM_INPUT_FORWARD_DIRECTIVITY, i);
    out.forward_w *= cavum_forward_without_leak(out.reflection, leak);
    out.reflection = shown_reflection(plan, &out, reflected_w);
  }
  if (plan->reflected) out.reflection -= plan->leak * draw_of(s, CAVUM_INPUT_DIRECTIVITY, i);
  out.omega = plan->omega * (1.0 + plan->omega_scale * draw_of(s, CAVUM_INPUT_FREQUENCY, i));
  return out;
}

// Q_t anew from each calibrating reading, with the gains of this draw.
static void draw_pickup(cavum_draw_source *s) {
  const cavum_coldtest_calibrations *from = &s->test->main;
  if (from->num_calibrating == 0) {
    set_all(s->q_pickup, from->q_pickup.value);
    add_scaled(s->q_pickup, s, CAVUM_INPUT_PICKUP, s->test->setup.q_pickup.uncertainty);
    return;
  }
  set_all(s->q_pickup, 0.0);
  for (int64_t k = 0; k < from->num_calibrating; k++) {
    int64_t index = from->calibrating[k];
    draw_ports(s, index);
    chunk_plan plan = plan_chunk(s, index);
    plan.method = from->calibrating_method[k];
    plan.sign = s->branches[index] == CAVUM_BRANCH_UNDER ? -1.0 : 1.0;
    for (int i = 0; i < CAVUM_CHUNK; i++) {
      cavum_draw one = gather(s, &plan, i);
      double flow_w = cavum_decay_power_value(plan.method, &one);
      s->q_pickup[i] += from->calibrating_weight[k] * flow_w / one.transmitted_w;
    }
  }
}

int cavum_draw_chunk(cavum_draw_source *s, double results[CAVUM_NUM_MC][CAVUM_CHUNK]) {
  const cavum_coldtest_setup *setup = &s->test->setup;
  const double *u = s->test->inputs.uncertainty;
  set_branches(s);
  s->num_chunks++;
  for (int input = 0; input < CAVUM_FIRST_LOCAL_INPUT; input++) {
    if (s->in_use[input]) draw(s, (cavum_coldtest_input)input);
  }
  bool decay = by_decay(s, s->index);
  if (!decay) draw_pickup(s);
  draw_ports(s, s->index);
  chunk_plan plan = plan_chunk(s, s->index);
  bool unread = decay && !plan.transmitted && s->test->main.has_pickup;
  int possible = 0;
  for (int i = 0; i < CAVUM_CHUNK; i++) {
    cavum_draw one = gather(s, &plan, i);
    double flow_w =
        decay ? cavum_decay_power_value(plan.method, &one) : s->q_pickup[i] * one.transmitted_w;
    if (unread) one.transmitted_w = flow_w / s->test->main.q_pickup.value;
    double wall_w = cavum_wall_power_value(&one);
    if (!(wall_w > 0.0 && flow_w > 0.0 && one.reflection * one.reflection < 1.0)) continue;
    double q0 = flow_w / wall_w;
    double r_over_q = setup->r_over_q_linac_ohm.value *
                      (1.0 + u[CAVUM_INPUT_R_OVER_Q] * draw_of(s, CAVUM_INPUT_R_OVER_Q, i));
    double length_m = setup->accelerating_length_m.value *
                      (1.0 + u[CAVUM_INPUT_LENGTH] * draw_of(s, CAVUM_INPUT_LENGTH, i));
    double factor_ohm =
        setup->geometry_factor_ohm.value *
        (1.0 + u[CAVUM_INPUT_GEOMETRY_FACTOR] * draw_of(s, CAVUM_INPUT_GEOMETRY_FACTOR, i));
    results[CAVUM_MC_Q0][possible] = q0;
    results[CAVUM_MC_E_ACC][possible] = sqrt(r_over_q * flow_w) / length_m;
    results[CAVUM_MC_SURFACE_RESISTANCE][possible] = factor_ohm / q0;
    possible++;
  }
  return possible;
}
