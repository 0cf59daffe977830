// SPDX-License-Identifier: GPL-3.0-or-later
// A recorded decay to Q0 against E_acc: local slopes of ln P_t, then the circuit equations with
// budgets, so that the couplings' uncertainties and what they share with the power are kept.
#include "coldtest/decay.h"

#include <gsl/gsl_cdf.h>
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "cavum/coldtest_series.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/options.h"
#include "coldtest/parabola.h"
#include "coldtest/spikes.h"

enum { FEWEST_SAMPLES = 12, DEFAULT_WINDOWS = 16 };
// ln of a sample is biased by -(floor/P)^2/2: below 0.5 % for samples above ten floors.
static const double SMALLEST_OVER_FLOOR = 10.0;
static const double CURVATURE_LIMIT = 3.0;

void cavum_decay_trace_clear(cavum_decay_trace *trace) {
  if (!trace) return;
  free(trace->time_s);
  free(trace->line);
  free(trace->transmitted_w);
  *trace = (cavum_decay_trace){0};
}

void cavum_decay_analysis_clear(cavum_decay_analysis *analysis) {
  if (!analysis) return;
  free(analysis->residuals);
  free(analysis->residual_time_s);
  free(analysis->points);
  *analysis = (cavum_decay_analysis){0};
}

const char *cavum_decay_place(char text[300], const cavum_decay_trace *trace, int64_t index) {
  if (trace->line) {
    snprintf(text, 300, "%.255s:%lld", trace->file, (long long)trace->line[index]);
  } else {
    snprintf(text, 300, "%.255s: sample %lld", trace->file, (long long)index + 1);
  }
  return text;
}

/** Samples in use: time, ln of the power at the cavity, weights. */
typedef struct samples {
  int64_t count;
  double *time_s, *log_power, *weight;  // Owned, shape [count].
  double *scratch;                      // Owned, shape [count].
  int64_t *index;                       // Owned, shape [count]: in the trace.
  double factor;                        // Meter to cavity.
  bool stated;                          // The noise is stated: weights are 1/sigma^2.
  double noise, floor_w;
} samples;

static void samples_clear(samples *s) {
  free(s->time_s);
  free(s->log_power);
  free(s->weight);
  free(s->scratch);
  free(s->index);
}

// A sample below the threshold is the floor, where the trace ends, when those after it are low too;
// one far below its neighbours is a fault of its own. Of the five samples that follow at least
// three.
static bool is_outlier(const cavum_decay_trace *trace, int64_t index, double zero_w,
                       double threshold_w) {
  enum { NEIGHBOURS = 5 };
  double low = 2.0 * cavum_max(trace->transmitted_w[index] - zero_w, threshold_w);
  int64_t after = 0, higher = 0;
  for (int64_t i = index + 1; i < trace->num_samples && after < NEIGHBOURS; i++) {
    after += !isnan(trace->transmitted_w[i]);
    higher += trace->transmitted_w[i] - zero_w > low;
  }
  return 2 * higher > after;
}

// Where the first sample that is of no use stands, and how many of what kind there are.
static cavum_status fail_too_few(const samples *s, const cavum_decay_trace *trace, int64_t first,
                                 int64_t outside, double threshold_w, cavum_error *error) {
  char where[300];
  return cavum_fail(
      error, CAVUM_ERR_INPUT,
      "%s: the first of %lld samples that cannot be used, of %lld: %lld outside of the times to "
      "take, the others not above %g uW (zero and floor of the meter); at least %d usable ones "
      "were expected",
      cavum_decay_place(where, trace, first), (long long)(trace->num_samples - s->count),
      (long long)trace->num_samples, (long long)outside,
      cavum_in_unit(cavum_max(threshold_w, 0.0), CAVUM_UNIT_MICROWATT), FEWEST_SAMPLES);
}

static cavum_status allocate_samples(samples *s, int64_t count, cavum_error *error) {
  s->time_s = cavum_alloc(count, sizeof(double));
  s->log_power = cavum_alloc(count, sizeof(double));
  s->weight = cavum_alloc(count, sizeof(double));
  s->scratch = cavum_alloc(count, sizeof(double));
  s->index = cavum_alloc(count, sizeof *s->index);
  bool complete = s->time_s && s->log_power && s->weight && s->scratch && s->index;
  return complete ? CAVUM_OK : cavum_fail_memory(error);
}

// Samples that stand alone are counted with those that are low alone.
static void drop_spikes(samples *s, cavum_decay_analysis *out) {
  double *spike = s->scratch;
  for (int64_t i = 0; i < s->count; i++) {
    double power_w = exp(s->log_power[i]) / s->factor;
    spike[i] = cavum_is_spike(s->log_power, s->count, i, hypot(s->noise, s->floor_w / power_w));
  }
  int64_t kept = 0;
  for (int64_t i = 0; i < s->count; i++) {
    if (spike[i] > 0.0) continue;
    s->time_s[kept] = s->time_s[i];
    s->index[kept] = s->index[i];
    s->log_power[kept++] = s->log_power[i];
  }
  out->num_outliers += s->count - kept;
  s->count = kept;
}

static bool is_outside(double time_s, const cavum_decay_options *options) {
  return time_s < options->first_time_s ||
         (options->last_time_s > 0.0 && time_s > options->last_time_s);
}

static cavum_status take_samples(samples *s, const cavum_coldtest *test,
                                 const cavum_decay_trace *trace, const cavum_decay_options *options,
                                 cavum_decay_analysis *out, cavum_error *error) {
  char where[300];
  const cavum_coldtest_channel *chain =
      &test->setup.channels[test->setup.channels[CAVUM_CHANNEL_TRANSMITTED].chain];
  cavum_status status = allocate_samples(s, trace->num_samples, error);
  if (status != CAVUM_OK) return status;
  if (trace->num_samples < 1) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: no samples", trace->file);
  }
  s->factor = cavum_coldtest_channel_factor(&test->setup, CAVUM_CHANNEL_TRANSMITTED);
  s->noise = options->noise;
  s->floor_w = options->floor_w;
  s->stated = options->noise > 0.0 || options->floor_w > 0.0;
  double last_s = -INFINITY, threshold_w = SMALLEST_OVER_FLOOR * options->floor_w;
  int64_t unused = -1, outside = 0;
  for (int64_t i = 0; i < trace->num_samples; i++) {
    double time_s = trace->time_s[i], net_w = trace->transmitted_w[i] - chain->zero_w;
    if (isnan(trace->transmitted_w[i])) continue;  // No value was recorded.
    if (!isfinite(time_s) || !isfinite(net_w) || !(time_s > last_s)) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s: times that rise and finite powers were expected",
                        cavum_decay_place(where, trace, i));
    }
    last_s = time_s;
    bool out_of_range = is_outside(time_s, options);
    // A trace that has reached its floor stays there: what comes later is cut too.
    bool low = !(net_w > threshold_w) || !(net_w > 0.0);
    if ((out_of_range || low || out->num_cut > 0) && unused < 0) unused = i;
    outside += out_of_range;
    if (out_of_range) continue;
    if (out->num_cut == 0 && low && is_outlier(trace, i, chain->zero_w, threshold_w)) {
      out->num_outliers++;
      continue;
    }
    if (out->num_cut > 0 || low) {
      out->num_cut++;
      continue;
    }
    s->time_s[s->count] = time_s;
    s->weight[s->count] = 1.0;
    s->index[s->count] = i;
    s->log_power[s->count++] = log(net_w * s->factor);
  }
  drop_spikes(s, out);
  if (s->count >= FEWEST_SAMPLES) return CAVUM_OK;
  if (unused >= 0)
    return fail_too_few(s, trace, unused, outside, threshold_w + chain->zero_w, error);
  return cavum_fail(
      error, CAVUM_ERR_INPUT, "%s: the last of %lld samples: at least %d were expected",
      cavum_decay_place(where, trace, trace->num_samples - 1), (long long)s->count, FEWEST_SAMPLES);
}

// A fit, then weights from the fitted power, then the fit again; unit weights without stated noise.
static bool fit_range(cavum_parabola *fit, samples *s, int64_t first, int64_t count,
                      int num_terms) {
  const double *time_s = s->time_s + first, *log_power = s->log_power + first;
  if (!cavum_parabola_fit(fit, time_s, log_power, NULL, count, 3)) return false;
  double *weight = s->weight + first;
  for (int64_t i = 0; i < count; i++) {
    double power_w = exp(cavum_parabola_value(fit, time_s[i])) / s->factor;
    double relative = hypot(s->noise, s->floor_w / power_w);
    weight[i] = s->stated ? 1.0 / (relative * relative) : 1.0;
  }
  return cavum_parabola_fit(fit, time_s, log_power, weight, count, num_terms);
}

// Variance factor: 1 for stated noise, else the scatter of the residuals.
static double variance_factor(const cavum_parabola *fit, const samples *s, int64_t count) {
  return s->stated ? 1.0 : fit->chi_squared / (double)(count - fit->num_terms);
}

static cavum_status fit_whole(cavum_decay_analysis *out, samples *s, const cavum_decay_trace *trace,
                              double systematic, cavum_error *error) {
  cavum_parabola line, parabola;
  if (!fit_range(&parabola, s, 0, s->count, 3) || !fit_range(&line, s, 0, s->count, 2) ||
      !(line.coefficient[1] < 0.0)) {
    char first[300];
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: the power does not fall from here, %g s, to the last usable sample, %g s: "
        "no decay",
        cavum_decay_place(first, trace, s->index[0]), s->time_s[0], s->time_s[s->count - 1]);
  }
  double tau = -line.scale / line.coefficient[1];
  double factor = variance_factor(&line, s, s->count);
  double relative = sqrt(factor * line.covariance[1][1]) / fabs(line.coefficient[1]);
  out->decay_time_s.value = tau;
  out->decay_time_s.uncertainty = tau * hypot(relative, systematic);
  out->degrees_of_freedom = s->count - 2;
  out->chi_squared = s->stated ? line.chi_squared : NAN;
  out->start_w = exp(cavum_parabola_value(&line, s->time_s[0]));
  double squares = 0.0;
  for (int64_t i = 0; i < s->count; i++) {
    out->residual_time_s[i] = s->time_s[i];
    out->residuals[i] = s->log_power[i] - cavum_parabola_value(&line, s->time_s[i]);
    squares += out->residuals[i] * out->residuals[i];
  }
  out->scatter = sqrt(squares / (double)(s->count - 2));
  double deviation = sqrt(variance_factor(&parabola, s, s->count) * parabola.covariance[2][2]);
  // Without any noise a curvature is measured against rounding.
  deviation = cavum_max(deviation, 1e-12 * fabs(parabola.coefficient[1]));
  out->curvature = parabola.coefficient[2] / deviation;
  out->exponential = fabs(out->curvature) < CURVATURE_LIMIT;
  return CAVUM_OK;
}

/** What the couplings take from each decay. */
typedef struct couplings {
  const cavum_coldtest_calibrations *from;
  cavum_dual sum;  // 1/Q_e + 1/Q_t + extra ports.
} couplings;

/** Numbers that all windows share. */
typedef struct decay_context {
  const cavum_coldtest *test;
  cavum_dual omega;
  couplings main;
  couplings other[CAVUM_MOST_ALTERNATIVES];  // Of open branches.
} decay_context;

static void add_inverse(cavum_dual *sum, const cavum_dual *quality) {
  cavum_dual inverse = cavum_dual_invert(quality);
  *sum = cavum_dual_add(sum, &inverse);
}

static couplings make_couplings(const cavum_coldtest_calibrations *from) {
  couplings out = {.from = from, .sum = from->inverse_extra};
  if (from->has_external) add_inverse(&out.sum, &from->q_external);
  if (from->has_pickup) add_inverse(&out.sum, &from->q_pickup);
  return out;
}

static decay_context make_context(const cavum_coldtest *test, double frequency_hz) {
  decay_context context = {.test = test, .main = make_couplings(&test->main)};
  for (int i = 0; i < test->decided.num_alternatives; i++) {
    context.other[i] = make_couplings(&test->decided.calibrations[i]);
  }
  context.omega = cavum_dual_constant(2.0 * CAVUM_PI * frequency_hz);
  context.omega.part[CAVUM_INPUT_FREQUENCY] =
      context.omega.value * test->inputs.uncertainty[CAVUM_INPUT_FREQUENCY];
  return context;
}

// Power at the cavity with the parts of its chain; the noise of the window in NOISE_TRANSMITTED.
static cavum_dual window_power(const decay_context *context, double power_w, double relative) {
  const double *u = context->test->inputs.uncertainty;
  int chain = context->test->setup.channels[CAVUM_CHANNEL_TRANSMITTED].chain;
  cavum_dual power = cavum_dual_constant(power_w);
  power.part[CAVUM_INPUT_COMMON_GAIN] = power_w * u[CAVUM_INPUT_COMMON_GAIN];
  power.part[CAVUM_INPUT_GAIN_FORWARD + chain] = power_w * u[CAVUM_INPUT_GAIN_FORWARD + chain];
  power.part[CAVUM_INPUT_CABLE_FORWARD + chain] =
      CAVUM_NEPER_PER_DB * power_w * u[CAVUM_INPUT_CABLE_FORWARD + chain];
  power.part[CAVUM_INPUT_ZERO_FORWARD + chain] =
      -u[CAVUM_INPUT_ZERO_FORWARD + chain] *
      cavum_coldtest_channel_factor(&context->test->setup, CAVUM_CHANNEL_TRANSMITTED);
  power.part[CAVUM_INPUT_NOISE_TRANSMITTED] = power_w * relative;
  return power;
}

static cavum_dual gradient_with(const couplings *c, const decay_context *context,
                                const cavum_dual *power) {
  CAVUM_ASSERT(c->from);
  const cavum_coldtest_setup *setup = &context->test->setup;
  cavum_dual flow = cavum_dual_multiply(&c->from->q_pickup, power);
  cavum_dual r_over_q = cavum_coldtest_figure(&setup->r_over_q_linac_ohm, CAVUM_INPUT_R_OVER_Q);
  cavum_dual length = cavum_coldtest_figure(&setup->accelerating_length_m, CAVUM_INPUT_LENGTH);
  cavum_dual square = cavum_dual_multiply(&r_over_q, &flow), voltage = cavum_dual_root(&square);
  return cavum_dual_divide(&voltage, &length);
}

static void set_gradient(cavum_decay_point *point, const decay_context *context,
                         const cavum_dual *power) {
  point->e_acc_v_per_m = point->e_acc_uncertainty_v_per_m = NAN;
  if (!context->test->main.has_pickup) return;
  cavum_dual gradient = gradient_with(&context->main, context, power);
  const cavum_decided_branches *decided = &context->test->decided;
  cavum_mixture mixture = {0};
  for (int i = 0; i < decided->num_alternatives; i++) {
    cavum_dual other = gradient_with(&context->other[i], context, power);
    cavum_mixture_add(&mixture, &other, decided->weight[i], false);
  }
  cavum_mixture_widen(&gradient, &mixture, context->test->setup.coverage);
  point->e_acc_v_per_m = gradient.value;
  point->e_acc_uncertainty_v_per_m = cavum_dual_uncertainty(&gradient);
}

// 1/Q0 = 1/Q_L - couplings. The wave that the circulator sends back slows the decay by a fixed
// rate, c / Q_e: that of the decay time in invert_decay(), where c Q_L / Q_e is the share.
static cavum_dual inverse_q0(const couplings *c, const decay_context *context,
                             const cavum_dual *inverse_loaded) {
  CAVUM_ASSERT(c->from);
  const cavum_coldtest_inputs *inputs = &context->test->inputs;
  cavum_dual inverse = cavum_dual_subtract(inverse_loaded, &c->sum);
  inverse.part[CAVUM_INPUT_CIRCULATOR] -= 2.0 * inputs->circulator_amplitude *
                                          inputs->uncertainty[CAVUM_INPUT_CIRCULATOR] /
                                          c->from->q_external.value;
  return inverse;
}

static void widen_q0(cavum_dual *q0, const decay_context *context,
                     const cavum_dual *inverse_loaded) {
  const cavum_decided_branches *decided = &context->test->decided;
  cavum_mixture mixture = {0};
  for (int i = 0; i < decided->num_alternatives; i++) {
    cavum_dual other = inverse_q0(&context->other[i], context, inverse_loaded);
    if (!(other.value > 0.0)) continue;
    other = cavum_dual_invert(&other);
    cavum_mixture_add(&mixture, &other, decided->weight[i], false);
  }
  cavum_mixture_widen(q0, &mixture, context->test->setup.coverage);
}

static void set_q0(cavum_decay_point *point, const decay_context *context,
                   const cavum_dual *inverse_loaded, double window_freedom) {
  double coverage = context->test->setup.coverage;
  point->q0 = point->q0_uncertainty = point->q0_statistical = NAN;
  point->degrees_of_freedom = window_freedom;
  cavum_dual inverse = cavum_dual_constant(0.0);
  if (context->test->main.has_external) {
    inverse = inverse_q0(&context->main, context, inverse_loaded);
  }
  if (inverse.value > 0.0) {
    cavum_dual q0 = cavum_dual_invert(&inverse);
    widen_q0(&q0, context, inverse_loaded);
    point->q0 = q0.value;
    point->q0_uncertainty = cavum_dual_uncertainty(&q0);
    point->q0_statistical = fabs(q0.part[CAVUM_INPUT_NOISE_DECAY]);
    // Welch-Satterthwaite: only the window's part has finite degrees of freedom.
    double ratio = point->q0_uncertainty / point->q0_statistical;
    if (isfinite(window_freedom) && point->q0_statistical > 0.0) {
      point->degrees_of_freedom = window_freedom * ratio * ratio * ratio * ratio;
    }
  }
  double tail = 0.5 * (1.0 + coverage);
  point->coverage_factor = isfinite(point->degrees_of_freedom) && point->degrees_of_freedom < 1e6
                               ? gsl_cdf_tdist_Pinv(tail, point->degrees_of_freedom)
                               : gsl_cdf_ugaussian_Pinv(tail);
}

// What a zero that reads too low by its uncertainty does to the slope of ln P_t: d ln P = -u / P,
// fitted like the samples themselves.
static bool zero_slope(double *part, const samples *s, int64_t first, const cavum_parabola *fit,
                       double uncertainty_w) {
  int64_t count = fit->count;
  cavum_parabola moved;
  double *change = s->scratch;
  *part = 0.0;
  if (!(uncertainty_w > 0.0)) return true;
  for (int64_t i = 0; i < count; i++) {
    double power_w = exp(cavum_parabola_value(fit, s->time_s[first + i])) / s->factor;
    change[i] = -uncertainty_w / power_w;
  }
  if (!cavum_parabola_fit(&moved, s->time_s + first, change, s->weight + first, count, 3)) {
    return false;
  }
  *part = -moved.coefficient[1] / moved.scale;
  return true;
}

// The rate -d ln P_t / dt with its parts. What the window does not tell of the law of the losses is
// taken as large as what that law did to the rate of the parabola, with any share of it alike.
static bool window_rate(cavum_dual *rate, const decay_context *context, const samples *s,
                        int64_t first, const cavum_parabola *fit, double factor, double bent) {
  const double *u = context->test->inputs.uncertainty;
  int chain = context->test->setup.channels[CAVUM_CHANNEL_TRANSMITTED].chain;
  double value = -fit->coefficient[1] / fit->scale;
  *rate = cavum_dual_constant(value);
  rate->part[CAVUM_INPUT_NOISE_DECAY] =
      hypot(sqrt(factor * fit->covariance[1][1]), bent / sqrt(3.0)) / fit->scale;
  // A longer time base makes every decay time longer and every rate lower.
  rate->part[CAVUM_INPUT_DECAY] = -value * u[CAVUM_INPUT_DECAY];
  return zero_slope(&rate->part[CAVUM_INPUT_ZERO_FORWARD + chain], s, first, fit,
                    u[CAVUM_INPUT_ZERO_FORWARD + chain]);
}

static bool analyse_window(cavum_decay_point *point, const decay_context *context, samples *s,
                           int64_t first, int64_t count) {
  cavum_parabola parabola, fit;
  if (!fit_range(&parabola, s, first, count, 3)) return false;
  // Losses that rise with the energy bend ln P_t more than a parabola where they are large.
  fit = parabola;
  cavum_parabola_fit_losses(&fit, s->time_s + first, s->log_power + first, s->weight + first);
  if (!(fit.coefficient[1] < 0.0)) return false;
  double factor = variance_factor(&fit, s, count);
  double bent = fabs(fit.coefficient[1] - parabola.coefficient[1]);
  cavum_dual rate;
  if (!window_rate(&rate, context, s, first, &fit, factor, bent)) return false;
  point->time_s = fit.centre;
  point->num_samples = count;
  // 1/Q_L = -(1/w) d ln P_t / dt.
  cavum_dual inverse_loaded = cavum_dual_divide(&rate, &context->omega);
  cavum_dual q_loaded = cavum_dual_invert(&inverse_loaded);
  point->q_loaded = q_loaded.value;
  point->q_loaded_uncertainty = cavum_dual_uncertainty(&q_loaded);
  cavum_dual power =
      window_power(context, exp(fit.coefficient[0]), sqrt(factor * fit.covariance[0][0]));
  set_gradient(point, context, &power);
  set_q0(point, context, &inverse_loaded, s->stated ? INFINITY : (double)(count - 3));
  return true;
}

static cavum_status analyse_windows(cavum_decay_analysis *out, const decay_context *context,
                                    samples *s, int wanted, const cavum_decay_trace *trace,
                                    cavum_error *error) {
  int64_t most = s->count / FEWEST_SAMPLES;
  int windows = wanted > 0 ? wanted : DEFAULT_WINDOWS;
  if (windows > most) windows = (int)most;
  out->points = cavum_alloc(windows, sizeof *out->points);
  if (!out->points) return cavum_fail_memory(error);
  for (int w = 0; w < windows; w++) {
    char where[300];
    int64_t first = s->count * w / windows, next = s->count * (w + 1) / windows;
    if (!analyse_window(&out->points[out->num_points], context, s, first, next - first)) {
      return cavum_fail(
          error, CAVUM_ERR_INPUT,
          "%s: the power does not fall from here, %g s, to %g s: cut the trace, or use "
          "fewer windows",
          cavum_decay_place(where, trace, s->index[first]), s->time_s[first], s->time_s[next - 1]);
    }
    out->num_points++;
  }
  return CAVUM_OK;
}

cavum_status cavum_decay_analyse(cavum_decay_analysis *analysis, const cavum_coldtest *test,
                                 const cavum_decay_trace *trace, double frequency_hz,
                                 const cavum_decay_options *options, cavum_error *error) {
  if (!analysis || !test || !trace) return cavum_fail_null(error, __func__);
  cavum_decay_options full;
  cavum_status status = cavum_decay_options_take(&full, options, error);
  if (status != CAVUM_OK) return status;
  options = &full;
  cavum_decay_analysis out = {0};
  samples s = {0};
  if (!(frequency_hz > 0.0) || !isfinite(frequency_hz)) {
    return cavum_fail(
        error, CAVUM_ERR_INPUT,
        "%s: no frequency for the decay: frequency_MHz of the test or of the trace was expected",
        trace->file);
  }
  CAVUM_TRY(take_samples(&s, test, trace, options, &out, error));
  out.num_used = s.count;
  out.residuals = cavum_alloc(s.count, sizeof *out.residuals);
  out.residual_time_s = cavum_alloc(s.count, sizeof *out.residual_time_s);
  if (!out.residuals || !out.residual_time_s) {
    status = cavum_fail_memory(error);
    goto done;
  }
  CAVUM_TRY(fit_whole(&out, &s, trace, test->inputs.uncertainty[CAVUM_INPUT_DECAY], error));
  decay_context context = make_context(test, frequency_hz);
  CAVUM_TRY(analyse_windows(&out, &context, &s, options->num_windows, trace, error));
  *analysis = out;
  out = (cavum_decay_analysis){0};
done:
  samples_clear(&s);
  cavum_decay_analysis_clear(&out);
  return status;
}
