// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file closed_form.h
 * All figures of a mode whose field is known in closed form, by routes that share nothing with the
 * library: one-dimensional integrals and searches by GSL. Numbers are good to about 1e-12.
 */
#ifndef CAVUM_TEST_CLOSED_FORM_H
#define CAVUM_TEST_CLOSED_FORM_H

#include <gsl/gsl_errno.h>
#include <gsl/gsl_integration.h>
#include <gsl/gsl_roots.h>

#include "solving.h"

/** Wave impedance of vacuum with the magnetic constant of CODATA 2018. */
#define CLOSED_FORM_ETA0 (1.25663706212e-6 * 299792458.0)

enum { CLOSED_FORM_PARAMETERS = 12, CLOSED_FORM_PARTS = 4 };

/** A mode in any normalisation; lengths in metres, H in A/m, E in V/m. */
typedef struct closed_form {
  double k_per_m;
  double energy_integral;                              /**< int mu_r |H|^2 dV. */
  double wall_integral;                                /**< oint |H|^2 dS over metal. */
  double e_wall, h_wall;                               /**< Largest |E| and |H| on metal. */
  double parameter[CLOSED_FORM_PARAMETERS];            /**< For e_axis. */
  double (*e_axis)(double z, const double *parameter); /**< E_z(0, z); NULL: no axis. */
  int num_parts;                                       /**< Smooth pieces of the axis. */
  double part[CLOSED_FORM_PARTS][2];                   /**< Their ends. */
} closed_form;

/** Root of a function in a bracket, to rounding. */
static inline double closed_form_root(double (*function)(double, void *), void *context, double low,
                                      double high) {
  gsl_function f = {function, context};
  gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
  gsl_root_fsolver_set(solver, &f, low, high);
  for (int i = 0; i < 200; i++) {
    gsl_root_fsolver_iterate(solver);
    if (gsl_root_test_interval(gsl_root_fsolver_x_lower(solver), gsl_root_fsolver_x_upper(solver),
                               0.0, 1e-16) == GSL_SUCCESS) {
      break;
    }
  }
  double root = gsl_root_fsolver_root(solver);
  gsl_root_fsolver_free(solver);
  return root;
}

/** The n-th root (from 1) of a continuous function above `from`, found by steps of `step`. */
static inline double closed_form_nth_root(double (*function)(double, void *), void *context,
                                          double from, double step, int n) {
  double x = from, before = function(x, context);
  for (;;) {
    double next = x + step, value = function(next, context);
    // A pole changes the sign too, but the size is large on both sides of it.
    bool crosses = before * value < 0.0 && (fabs(before) < 50.0 || fabs(value) < 50.0);
    if (crosses && --n == 0) return closed_form_root(function, context, x, next);
    x = next;
    before = value;
  }
}

/** Integral of a function over [a, b] in 64 panels of 12 Gauss points. */
static inline double closed_form_integral(double (*function)(double, void *), void *context,
                                          double a, double b) {
  gsl_function f = {function, context};
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(12);
  double sum = 0.0, width = (b - a) / 64.0;
  for (int i = 0; i < 64; i++) {
    sum += gsl_integration_glfixed(&f, a + i * width, a + (i + 1) * width, table);
  }
  gsl_integration_glfixed_table_free(table);
  return sum;
}

/** Where a smooth function is largest in [a, b], by 400 looks and golden section. */
static inline double closed_form_arg_max(double (*function)(double, void *), void *context,
                                         double a, double b) {
  const int looks = 400;
  double best = a, largest = function(a, context), step = (b - a) / looks;
  for (int i = 1; i <= looks; i++) {
    double value = function(a + i * step, context);
    if (value > largest) {
      largest = value;
      best = a + i * step;
    }
  }
  const double golden = 0.5 * (sqrt(5.0) - 1.0);
  double low = fmax(a, best - step), high = fmin(b, best + step);
  for (int i = 0; i < 60; i++) {
    double x = high - golden * (high - low), y = low + golden * (high - low);
    if (function(x, context) > function(y, context)) {
      high = y;
    } else {
      low = x;
    }
  }
  double middle = 0.5 * (low + high);
  return function(middle, context) > largest ? middle : best;
}

enum { CLOSED_FORM_PANELS = 64, CLOSED_FORM_GAUSS = 12 };

/** E_z on the axis at Gauss points, times their weights. */
typedef struct closed_form_axis {
  double k_per_m;
  int count;
  double z[CLOSED_FORM_PARTS * CLOSED_FORM_PANELS * CLOSED_FORM_GAUSS];
  double weighted[CLOSED_FORM_PARTS * CLOSED_FORM_PANELS * CLOSED_FORM_GAUSS];
} closed_form_axis;

/** Samples the axis of a mode. */
static inline void closed_form_sample(closed_form_axis *axis, const closed_form *mode) {
  gsl_integration_glfixed_table *table = gsl_integration_glfixed_table_alloc(CLOSED_FORM_GAUSS);
  axis->k_per_m = mode->k_per_m;
  axis->count = 0;
  for (int part = 0; part < mode->num_parts; part++) {
    double from = mode->part[part][0], width = (mode->part[part][1] - from) / CLOSED_FORM_PANELS;
    for (int i = 0; i < CLOSED_FORM_PANELS * CLOSED_FORM_GAUSS; i++) {
      double a = from + (double)(i / CLOSED_FORM_GAUSS) * width, weight;
      double *z = &axis->z[axis->count];
      gsl_integration_glfixed_point(a, a + width, (size_t)(i % CLOSED_FORM_GAUSS), z, &weight,
                                    table);
      axis->weighted[axis->count++] = weight * mode->e_axis(*z, mode->parameter);
    }
  }
  gsl_integration_glfixed_table_free(table);
}

/** |int E_z exp(j k z / beta) dz|. */
static inline double closed_form_voltage(double beta, void *context) {
  const closed_form_axis *axis = context;
  double re = 0.0, im = 0.0, wave_number = axis->k_per_m / beta;
  for (int i = 0; i < axis->count; i++) {
    re += axis->weighted[i] * cos(wave_number * axis->z[i]);
    im += axis->weighted[i] * sin(wave_number * axis->z[i]);
  }
  return hypot(re, im);
}

static inline double closed_form_e_axis(double z, void *context) {
  const closed_form *mode = context;
  return mode->e_axis(z, mode->parameter);
}

/** int E_z dz and int |E_z| dz; the latter is split at the sign changes. */
static inline void closed_form_plain(double *of_e, double *of_abs, const closed_form *mode) {
  enum { LOOKS = 400 };
  void *context = (void *)mode;
  *of_e = *of_abs = 0.0;
  for (int i = 0; i < mode->num_parts; i++) {
    double start = mode->part[i][0], end = mode->part[i][1], from = start, before = start;
    *of_e += closed_form_integral(closed_form_e_axis, context, start, end);
    for (int k = 0; k < LOOKS; k++) {
      // Off the round positions, where a zero may lie.
      double z = start + (k + 0.63) * (end - start) / LOOKS;
      if (closed_form_e_axis(before, context) * closed_form_e_axis(z, context) < 0.0) {
        double root = closed_form_root(closed_form_e_axis, context, before, z);
        *of_abs += fabs(closed_form_integral(closed_form_e_axis, context, from, root));
        from = root;
      }
      before = z;
    }
    *of_abs += fabs(closed_form_integral(closed_form_e_axis, context, from, end));
  }
}

/** The figures of a mode; NAN where the mode has none. */
typedef struct closed_form_figures {
  double value[CAVUM_NUM_FIGURES];
} closed_form_figures;

/** From the mode to its figures, by the definitions that cavum prints. */
static inline closed_form_figures closed_form_compute(const closed_form *mode, double beta,
                                                      double length_m, double resistance_ohm) {
  closed_form_figures out;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) out.value[id] = NAN;
  double w = 299792458.0 * mode->k_per_m, mu0 = 1.25663706212e-6, *figure = out.value;
  double scale = 1.0 / sqrt(0.5 * mu0 * mode->energy_integral);  // field of one joule
  double wall = mode->wall_integral * scale * scale, g = 2.0 * w / wall, of_e, of_abs;
  figure[CAVUM_FIGURE_FREQUENCY] = w / (2.0 * acos(-1.0));
  figure[CAVUM_FIGURE_GEOMETRY_FACTOR] = g;
  figure[CAVUM_FIGURE_SURFACE_RESISTANCE] = resistance_ohm;
  figure[CAVUM_FIGURE_Q0] = g / resistance_ohm;
  if (!mode->e_axis) return out;
  static closed_form_axis axis;
  closed_form_sample(&axis, mode);
  double v = closed_form_voltage(beta, &axis) * scale, r_over_q = v * v / w, eacc = v / length_m;
  closed_form_plain(&of_e, &of_abs, mode);
  figure[CAVUM_FIGURE_R_OVER_Q_LINAC] = r_over_q;
  figure[CAVUM_FIGURE_R_OVER_Q_CIRCUIT] = 0.5 * r_over_q;
  figure[CAVUM_FIGURE_G_TIMES_R_OVER_Q] = g * r_over_q;
  figure[CAVUM_FIGURE_EPK_OVER_EACC] = mode->e_wall * scale / eacc;
  figure[CAVUM_FIGURE_BPK_OVER_EACC] = mu0 * mode->h_wall * scale / eacc;
  if (fabs(of_e) > 1e-9 * of_abs) {
    figure[CAVUM_FIGURE_TRANSIT_TIME_FACTOR] = v / (fabs(of_e) * scale);
  }
  figure[CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS] = v / (of_abs * scale);
  figure[CAVUM_FIGURE_LOSS_FACTOR] = 0.25 * w * r_over_q;
  figure[CAVUM_FIGURE_VOLTAGE_AT_1_J] = v;
  figure[CAVUM_FIGURE_EACC_AT_1_J] = eacc;
  double best = closed_form_arg_max(closed_form_voltage, &axis, 0.05, 1.0);
  double largest = closed_form_voltage(best, &axis) * scale;
  figure[CAVUM_FIGURE_BETA_OPTIMUM] = best;
  figure[CAVUM_FIGURE_R_OVER_Q_OPTIMUM] = largest * largest / w;
  figure[CAVUM_FIGURE_SHUNT_IMPEDANCE] = r_over_q * g / resistance_ohm;
  figure[CAVUM_FIGURE_WALL_POWER] = 0.5 * resistance_ohm * wall * (1e6 / eacc) * (1e6 / eacc);
  return out;
}

/**
 * Compares every figure of a solved mode with the closed form, prints all, adds to the tally. A
 * figure that the closed form does not have must be absent.
 */
static inline void closed_form_compare(tally *all, const char *where, const cavum_mode_result *mode,
                                       const closed_form_figures *truth) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *figure = &mode->figures[id];
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    double expected = truth->value[id];
    if (isnan(expected)) {
      ck_assert_msg(figure->state == CAVUM_FIGURE_ABSENT, "%s %s: observed %.9g, expected none",
                    where, key, figure->value);
      continue;
    }
    printf("%s %s: observed %.13g +- %.1e closed form %.13g relative difference %.1e\n", where, key,
           figure->value, figure->uncertainty, expected, figure->value / expected - 1.0);
    // The closed forms are evaluated to a few 1e-13; the speed at a flat maximum only to the square
    // root of that.
    double own = id == CAVUM_FIGURE_BETA_OPTIMUM ? 3e-8 : 1e-12;
    tally_add(all, where, (cavum_figure_id)id, figure, expected, own * fabs(expected));
  }
}

#endif
