// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file closed_cavities.h
 * Cavities with closed-form modes: pillbox, sphere, concentric spheres, shorted coaxial line. From
 * Maxwell's equations; Bessel and Legendre functions from GSL. With H_phi in phase,
 * E_z = (eta0 / k) (1/r) d(r H_phi)/dr and E_r = -(eta0 / k) dH_phi/dz.
 */
#ifndef CAVUM_TEST_CLOSED_CAVITIES_H
#define CAVUM_TEST_CLOSED_CAVITIES_H

#include <gsl/gsl_sf_bessel.h>
#include <gsl/gsl_sf_legendre.h>

#include "closed_form.h"

static const double PI = 3.14159265358979323846;

static inline double pillbox_e_axis(double z, const double *p) { return p[0] * cos(p[1] * z); }

/** TM0np of a closed cylinder, z from 0 to `length`: H_phi = J1(x r / radius) cos(p pi z / length).
 */
static inline closed_form closed_pillbox(double radius, double length, int n, int p) {
  double x = gsl_sf_bessel_zero_J0((unsigned)n), kz = p * PI / length, kr = x / radius;
  double k = hypot(kr, kz), along = p == 0 ? length : 0.5 * length, j1 = gsl_sf_bessel_J1(x);
  double e_end = CLOSED_FORM_ETA0 * kr / k, e_side = CLOSED_FORM_ETA0 * kz / k * fabs(j1);
  // Largest J1 for r <= radius: at its first maximum, inside since x >= 2.4.
  double j1_most = gsl_sf_bessel_J1(1.8411837813406593);
  closed_form mode = {.k_per_m = k,
                      .energy_integral = PI * radius * radius * j1 * j1 * along,
                      .wall_integral = 2 * PI * radius * j1 * j1 * (along + radius),
                      .e_wall = fmax(e_end, e_side),
                      .h_wall = j1_most,
                      .parameter = {e_end, kz},
                      .e_axis = pillbox_e_axis,
                      .num_parts = 1,
                      .part = {{0.0, length}}};
  return mode;
}

/** The lowest modes of a closed cylinder by rising frequency. */
static inline void closed_pillbox_lowest(closed_form *modes, int indices[][2], int count,
                                         double radius, double length) {
  enum { N = 6, P = 12 };
  bool taken[N + 1][P] = {{false}};
  for (int i = 0; i < count; i++) {
    double least = INFINITY;
    for (int n = 1; n <= N; n++) {
      for (int p = 0; p < P; p++) {
        closed_form mode = closed_pillbox(radius, length, n, p);
        if (taken[n][p] || mode.k_per_m >= least) continue;
        least = mode.k_per_m;
        modes[i] = mode;
        indices[i][0] = n;
        indices[i][1] = p;
      }
    }
    taken[indices[i][0]][indices[i][1]] = true;
  }
}

/** Wave numbers of the lowest TM0np of a metal cylinder between magnetic planes, p >= 1. */
static inline void closed_magnetic_pillbox_lowest(double *k_per_m, int count, double radius,
                                                  double length) {
  double before = 0.0;
  for (int i = 0; i < count; i++) {
    double least = INFINITY;
    for (unsigned n = 1; n <= 12; n++) {
      for (int p = 1; p <= 24; p++) {
        double k = hypot(gsl_sf_bessel_zero_J0(n) / radius, p * PI / length);
        if (k > before && k < least) least = k;
      }
    }
    k_per_m[i] = before = least;
  }
}

/** A radial function A j_l(k r) + B y_l(k r). */
typedef struct spherical_wave {
  int l;
  double k, a, b;
} spherical_wave;

static inline double spherical_at(const spherical_wave *wave, double r) {
  double x = wave->k * r, value = wave->a * gsl_sf_bessel_jl(wave->l, x);
  return wave->b == 0.0 ? value : value + wave->b * gsl_sf_bessel_yl(wave->l, x);
}

/** d(x j_l)/dx = x j_(l-1) - l j_l, and the same for y. */
static inline double spherical_riccati_j(int l, double x) {
  return x * gsl_sf_bessel_jl(l - 1, x) - l * gsl_sf_bessel_jl(l, x);
}
static inline double spherical_riccati_y(int l, double x) {
  return x * gsl_sf_bessel_yl(l - 1, x) - l * gsl_sf_bessel_yl(l, x);
}

static inline double spherical_square(double r, void *context) {
  double value = spherical_at(context, r);
  return value * value * r * r;
}

/** P_l^1(cos theta), scaled to theta near the axis. */
static inline double spherical_angular(double theta, void *context) {
  int l = *(const int *)context;
  return fabs(gsl_sf_legendre_Plm(l, 1, cos(theta))) / (0.5 * l * (l + 1));
}

/** E_z(0, z) = 2 (eta0 / k) R(|z|) / |z|, odd for even l. */
static inline double spherical_e_axis(double z, const double *p) {
  spherical_wave wave = {(int)p[0], p[1], p[2], p[3]};
  double r = fabs(z), sign = z < 0.0 && wave.l % 2 == 0 ? -1.0 : 1.0;
  // j_1(x) / x tends to 1/3; higher l tend to zero.
  double ratio =
      r * wave.k < 1e-8 ? (wave.l == 1 ? wave.a * wave.k / 3.0 : 0.0) : spherical_at(&wave, r) / r;
  return sign * 2.0 * CLOSED_FORM_ETA0 / wave.k * ratio;
}

static inline closed_form closed_spherical(const spherical_wave *wave, double inner, double outer) {
  int l = wave->l;
  double angular = 8.0 / ((2.0 * l + 1.0) * l * (l + 1.0));  // int g^2 sin(theta) d(theta)
  double at_outer = spherical_at(wave, outer), peak_angle, most;
  double at_inner = inner > 0.0 ? spherical_at(wave, inner) : 0.0;
  peak_angle = closed_form_arg_max(spherical_angular, (void *)&l, 0.0, 0.5 * PI);
  most = spherical_angular(peak_angle, (void *)&l);
  double radial = closed_form_integral(spherical_square, (void *)wave, inner, outer);
  double e_outer = 2.0 * CLOSED_FORM_ETA0 * fabs(at_outer) / (wave->k * outer);
  double e_inner = inner > 0.0 ? 2.0 * CLOSED_FORM_ETA0 * fabs(at_inner) / (wave->k * inner) : 0.0;
  closed_form mode = {
      .k_per_m = wave->k,
      .energy_integral = 2 * PI * angular * radial,
      .wall_integral = 2 * PI * angular *
                       (at_outer * at_outer * outer * outer + at_inner * at_inner * inner * inner),
      .e_wall = fmax(e_outer, e_inner),
      .h_wall = most * fmax(fabs(at_outer), fabs(at_inner)),
      .parameter = {l, wave->k, wave->a, wave->b},
      .e_axis = spherical_e_axis,
      .num_parts = 2,
      .part = {{-outer, -inner}, {inner, outer}}};
  return mode;
}

static inline double sphere_condition(double x, void *context) {
  return spherical_riccati_j(*(const int *)context, x);
}

/** The n-th mode of order l inside a sphere of a radius, centre at z = 0. */
static inline closed_form closed_sphere(double radius, int l, int n) {
  double ka = closed_form_nth_root(sphere_condition, &l, 0.5, 0.05, n);
  spherical_wave wave = {l, ka / radius, 1.0, 0.0};
  return closed_spherical(&wave, 0.0, radius);
}

/** l and the ratio of the radii, for the condition below. */
typedef struct shell_condition_context {
  int l;
  double ratio;
} shell_condition_context;

static inline double shell_condition(double x, void *context) {
  const shell_condition_context *c = context;
  double a = c->ratio * x;
  return spherical_riccati_j(c->l, a) * spherical_riccati_y(c->l, x) -
         spherical_riccati_j(c->l, x) * spherical_riccati_y(c->l, a);
}

/** The n-th mode of order l between two spheres. */
static inline closed_form closed_shell(double inner, double outer, int l, int n) {
  shell_condition_context context = {l, inner / outer};
  double kb = closed_form_nth_root(shell_condition, &context, 0.3, 0.02, n), k = kb / outer;
  spherical_wave wave = {l, k, spherical_riccati_y(l, kb), -spherical_riccati_j(l, kb)};
  return closed_spherical(&wave, inner, outer);
}

/** The p-th TEM mode of a line shorted at both ends: H_phi = cos(p pi z / length) / r. */
static inline closed_form closed_coax(double inner, double outer, double length, int p) {
  double log_ratio = log(outer / inner);
  closed_form mode = {
      .k_per_m = p * PI / length,
      .energy_integral = PI * length * log_ratio,
      .wall_integral = PI * length * (1.0 / inner + 1.0 / outer) + 4.0 * PI * log_ratio};
  return mode;
}

/** Radii of a line, for the condition below. */
typedef struct coax_condition_context {
  double inner, outer;
} coax_condition_context;

static inline double coax_condition(double k, void *context) {
  const coax_condition_context *c = context;
  return gsl_sf_bessel_J0(k * c->inner) * gsl_sf_bessel_Y0(k * c->outer) -
         gsl_sf_bessel_J0(k * c->outer) * gsl_sf_bessel_Y0(k * c->inner);
}

/** First wave guide mode TM01 of a coaxial line with no variation along it: its k. */
static inline double closed_coax_tm01(double inner, double outer) {
  coax_condition_context context = {inner, outer};
  return closed_form_nth_root(coax_condition, &context, 0.3 / (outer - inner),
                              0.1 / (outer - inner), 1);
}

#endif
