// SPDX-License-Identifier: GPL-3.0-or-later
// Weighted line or parabola through samples, by normal equations on the interval -1 to 1.
#include "coldtest/parabola.h"

#include <stdlib.h>

#include "base/base.h"

// Inverse of a symmetric positive definite matrix by elimination without pivots.
static bool invert(double inverse[3][3], double matrix[3][3], int size) {
  double work[3][6] = {{0.0}};
  for (int i = 0; i < size; i++) {
    for (int j = 0; j < size; j++) work[i][j] = matrix[i][j];
    work[i][size + i] = 1.0;
  }
  for (int column = 0; column < size; column++) {
    double pivot = work[column][column];
    if (!(pivot > 1e-13 * matrix[column][column])) return false;
    for (int j = 0; j < 2 * size; j++) work[column][j] /= pivot;
    for (int i = 0; i < size; i++) {
      double factor = work[i][column];
      if (i == column || factor == 0.0) continue;
      for (int j = 0; j < 2 * size; j++) work[i][j] -= factor * work[column][j];
    }
  }
  for (int i = 0; i < size; i++) {
    for (int j = 0; j < size; j++) inverse[i][j] = work[i][size + j];
  }
  return true;
}

// q(s). Gauss-Legendre with five points: within a window the exponent changes by a few at most.
static double curve(const cavum_parabola *fit, double s) {
  static const double at[] = {0.0, 0.5384693101056831, 0.9061798459386640},
                      share[] = {0.5688888888888889, 0.4786286704993665, 0.2369268850561891};
  double a = fit->rise[0], b = fit->rise[1], sum = 0.0;
  if (a == 0.0) return s * s;
  for (int k = -2; k <= 2; k++) {
    double t = 0.5 * s * (1.0 + copysign(at[abs(k)], k));
    sum += share[abs(k)] * expm1(t * (a + b * t));
  }
  return s * sum / a;
}

// `out` has all but what is fitted.
static bool fit_terms(cavum_parabola *fit, cavum_parabola out, const double *x, const double *y,
                      const double *weight) {
  int num_terms = out.num_terms;
  int64_t count = out.count;
  double matrix[3][3] = {{0.0}}, right[3] = {0.0};
  // y is taken from its first value, so that the residuals keep their digits.
  double origin = y[0];
  if (!(out.scale > 0.0)) return false;
  for (int64_t k = 0; k < count; k++) {
    double s = (x[k] - out.centre) / out.scale, w = weight ? weight[k] : 1.0;
    double power[3] = {1.0, s, num_terms > 2 ? curve(&out, s) : 0.0};
    for (int i = 0; i < num_terms; i++) {
      right[i] += w * power[i] * (y[k] - origin);
      for (int j = 0; j <= i; j++) matrix[i][j] += w * power[i] * power[j];
    }
  }
  for (int i = 0; i < num_terms; i++) {
    for (int j = i + 1; j < num_terms; j++) matrix[i][j] = matrix[j][i];
  }
  if (!invert(out.covariance, matrix, num_terms)) return false;
  for (int i = 0; i < num_terms; i++) {
    for (int j = 0; j < num_terms; j++) out.coefficient[i] += out.covariance[i][j] * right[j];
  }
  out.coefficient[0] += origin;
  for (int64_t k = 0; k < count; k++) {
    double residual = y[k] - cavum_parabola_value(&out, x[k]);
    out.chi_squared += (weight ? weight[k] : 1.0) * residual * residual;
  }
  *fit = out;
  return true;
}

bool cavum_parabola_fit(cavum_parabola *fit, const double *x, const double *y, const double *weight,
                        int64_t count, int num_terms) {
  cavum_parabola out = {.num_terms = num_terms,
                        .count = count,
                        .centre = 0.5 * (x[0] + x[count - 1]),
                        .scale = 0.5 * (x[count - 1] - x[0])};
  return fit_terms(fit, out, x, y, weight);
}

bool cavum_parabola_fit_losses(cavum_parabola *fit, const double *x, const double *y,
                               const double *weight) {
  double a = fit->coefficient[1], b = fit->coefficient[2];
  if (!(a + 2.0 * fabs(b) < 0.0)) return false;
  cavum_parabola out = {.num_terms = 3,
                        .count = fit->count,
                        .centre = fit->centre,
                        .scale = fit->scale,
                        .rise = {a, b}};
  return fit_terms(fit, out, x, y, weight);
}

double cavum_parabola_value(const cavum_parabola *fit, double x) {
  double s = (x - fit->centre) / fit->scale;
  double bend = fit->num_terms > 2 ? fit->coefficient[2] * curve(fit, s) : 0.0;
  return fit->coefficient[0] + s * fit->coefficient[1] + bend;
}
