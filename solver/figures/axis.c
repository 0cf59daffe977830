// SPDX-License-Identifier: GPL-3.0-or-later
// Integrals of E_z along the axis by Gauss rules on every axis edge.
#include "axis.h"

#include <string.h>

#include "base.h"
#include "element_map.h"
#include "quadrature.h"

// Lobes of E_z weaker than this part of the largest do not count in a mode label.
static const double LOBE_LEAST = 0.1;

static double edge_half_length(const cavum_view *view, cavum_side side) {
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  return 0.5 * fabs(cavum_trace_at(&trace, 1.0).z_m - cavum_trace_at(&trace, -1.0).z_m);
}

// A Gauss rule of n points integrates the product of a degree p polynomial with exp(j x s) to
// rounding when 2 n exceeds p by about x plus a margin.
static int points_for(int degree, double phase) {
  double wanted = 0.5 * degree + 0.7 * phase + 10.0;
  return wanted < CAVUM_QUADRATURE_MOST ? (int)wanted : CAVUM_QUADRATURE_MOST;
}

static void sample_side(double *z, double *weight, double *e_z, const cavum_view *view,
                        cavum_side side, int points) {
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST];
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  cavum_quadrature_gauss(x, w, points);
  for (int i = 0; i < points; i++) {
    cavum_wall_point at = cavum_trace_at(&trace, x[i]);
    z[i] = at.z_m;
    weight[i] = w[i] * fabs(at.z_s);
    e_z[i] = cavum_trace_axis_e_z(&trace, x[i]);
  }
}

cavum_status cavum_axis_sample(cavum_axis_samples *samples, const cavum_view *view,
                               double beta_least, cavum_error *error) {
  double wave_number = sqrt(view->field.k2_per_m2) / beta_least;
  int degree = view->field.discretisation->reference->degree;
  const cavum_sides *sides = view->sides;
  int64_t count = 0;
  for (cavum_index i = 0; i < sides->num_axis; i++) {
    count += points_for(degree, wave_number * edge_half_length(view, sides->axis[i]));
  }
  double *block = cavum_alloc(3 * count, sizeof *block);
  if (!block) return cavum_fail_memory(error);
  cavum_axis_samples made = {(cavum_index)count, block, block + count, block + 2 * count,
                             view->parity};
  int64_t at = 0;
  for (cavum_index i = 0; i < sides->num_axis; i++) {
    int points = points_for(degree, wave_number * edge_half_length(view, sides->axis[i]));
    sample_side(made.z_m + at, made.weight_m + at, made.e_z_v_per_m + at, view, sides->axis[i],
                points);
    at += points;
  }
  *samples = made;
  return CAVUM_OK;
}

void cavum_axis_samples_clear(cavum_axis_samples *samples) {
  if (!samples) return;
  free(samples->z_m);
  memset(samples, 0, sizeof *samples);
}

cavum_phasor cavum_axis_voltage(const cavum_axis_samples *samples, double k_per_m, double beta) {
  double re = 0.0, im = 0.0, wave_number = k_per_m / beta;
  for (cavum_index i = 0; i < samples->count; i++) {
    double e = samples->weight_m[i] * samples->e_z_v_per_m[i];
    re += e * cos(wave_number * samples->z_m[i]);
    im += e * sin(wave_number * samples->z_m[i]);
  }
  // The mirrored half of an even E_z doubles the cosine part and cancels the sine part.
  if (samples->parity == CAVUM_PARITY_EVEN) return (cavum_phasor){2.0 * re, 0.0};
  if (samples->parity == CAVUM_PARITY_ODD) return (cavum_phasor){0.0, 2.0 * im};
  return (cavum_phasor){re, im};
}

// Root of E_z between two positions where it has opposite signs, by bisection to rounding.
static double find_root(const cavum_trace *trace, double low, double high) {
  double at_low = cavum_trace_axis_e_z(trace, low);
  for (int step = 0; step < 50; step++) {
    double middle = 0.5 * (low + high);
    if (cavum_trace_axis_e_z(trace, middle) * at_low > 0.0) {
      low = middle;
    } else {
      high = middle;
    }
  }
  return 0.5 * (low + high);
}

static double integrate_part(const cavum_trace *trace, double from, double to, const double *x,
                             const double *w, int points) {
  double sum = 0.0, half = 0.5 * (to - from), middle = 0.5 * (to + from);
  for (int k = 0; k < points; k++) sum += w[k] * cavum_trace_axis_e_z(trace, middle + half * x[k]);
  return half * sum;
}

// int |E_z| ds over one edge: the polynomial is split at its sign changes.
static double integrate_abs(const cavum_trace *trace, const double *x, const double *w,
                            int points) {
  enum { LOOKS = 24 };
  double from = -1.0, sum = 0.0, before = cavum_trace_axis_e_z(trace, -1.0);
  for (int i = 1; i <= LOOKS; i++) {
    double to = -1.0 + 2.0 * i / LOOKS, value = cavum_trace_axis_e_z(trace, to);
    if (value * before < 0.0) {
      double root = find_root(trace, to - 2.0 / LOOKS, to);
      sum += fabs(integrate_part(trace, from, root, x, w, points));
      from = root;
    }
    before = value;
  }
  return sum + fabs(integrate_part(trace, from, 1.0, x, w, points));
}

void cavum_axis_plain_integrals(double *of_e, double *of_abs, const cavum_view *view) {
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST];
  int points = view->field.discretisation->reference->degree / 2 + 1;
  cavum_quadrature_gauss(x, w, points);
  *of_e = *of_abs = 0.0;
  for (cavum_index i = 0; i < view->sides->num_axis; i++) {
    cavum_side side = view->sides->axis[i];
    cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
    double half = edge_half_length(view, side);
    for (int k = 0; k < points; k++) *of_e += w[k] * half * cavum_trace_axis_e_z(&trace, x[k]);
    *of_abs += half * integrate_abs(&trace, x, w, points);
  }
  *of_e *= view->parity == CAVUM_PARITY_ODD ? 0.0 : view->copies;
  *of_abs *= view->copies;
}

static double voltage_size(const cavum_axis_samples *samples, double k_per_m, double beta) {
  cavum_phasor v = cavum_axis_voltage(samples, k_per_m, beta);
  return hypot(v.re, v.im);
}

double cavum_axis_best_beta(const cavum_axis_samples *samples, double k_per_m, double from) {
  enum { STEPS = 96 };
  const double golden = 0.6180339887498949;
  double step = (1.0 - from) / (STEPS - 1), best = from, largest = -1.0;
  for (int i = 0; i < STEPS; i++) {
    double beta = from + i * step, v = voltage_size(samples, k_per_m, beta);
    if (v > largest) {
      largest = v;
      best = beta;
    }
  }
  double low = cavum_max(from, best - step), high = cavum_min(1.0, best + step);
  double a = high - golden * (high - low), b = low + golden * (high - low);
  double at_a = voltage_size(samples, k_per_m, a), at_b = voltage_size(samples, k_per_m, b);
  for (int i = 0; i < 36; i++) {
    if (at_a > at_b) {
      high = b;
      b = a;
      at_b = at_a;
      a = high - golden * (high - low);
      at_a = voltage_size(samples, k_per_m, a);
    } else {
      low = a;
      a = b;
      at_a = at_b;
      b = low + golden * (high - low);
      at_b = voltage_size(samples, k_per_m, b);
    }
  }
  double middle = 0.5 * (low + high);
  return voltage_size(samples, k_per_m, 1.0) >= voltage_size(samples, k_per_m, middle) ? 1.0
                                                                                        : middle;
}

int cavum_axis_count_sign_changes(const cavum_axis_samples *samples) {
  double largest = 0.0;
  int changes = 0, sign = 0;
  for (cavum_index i = 0; i < samples->count; i++) {
    largest = cavum_max(largest, fabs(samples->e_z_v_per_m[i]));
  }
  for (cavum_index i = 0; i < samples->count; i++) {
    double e = samples->e_z_v_per_m[i];
    if (fabs(e) < LOBE_LEAST * largest) continue;
    int now = e > 0.0 ? 1 : -1;
    if (sign != 0 && now != sign) changes++;
    sign = now;
  }
  // Mirrored: changes on each side, and one at the plane itself when E_z is odd.
  if (samples->parity == CAVUM_PARITY_EVEN) return 2 * changes;
  if (samples->parity == CAVUM_PARITY_ODD) return 2 * changes + 1;
  return changes;
}
