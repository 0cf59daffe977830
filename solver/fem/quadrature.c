// SPDX-License-Identifier: GPL-3.0-or-later
// Rules by Newton's method on the Legendre polynomial, and on what the next one adds to it.
#include "fem/quadrature.h"

#include "base/base.h"

// P_n(x) and P_n'(x) by the three-term recurrence.
static void legendre(double *value, double *derivative, int n, double x) {
  double before = 1.0, p = x;
  for (int k = 2; k <= n; k++) {
    double next = ((2 * k - 1) * x * p - (k - 1) * before) / k;
    before = p;
    p = next;
  }
  *value = p;
  *derivative = n * (x * p - before) / (x * x - 1.0);
}

void cavum_quadrature_gauss(double *x, double *weight, int count) {
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_QUADRATURE_MOST);
  if (count == 1) {
    x[0] = 0.0;
    weight[0] = 2.0;
    return;
  }
  for (int i = 0; i < (count + 1) / 2; i++) {
    // Tricomi's start is good to a few digits, so four steps reach rounding for every count here.
    double root = cos(CAVUM_PI * (i + 0.75) / (count + 0.5)), value, derivative = 1.0;
    for (int step = 0; step < 6; step++) {
      legendre(&value, &derivative, count, root);
      root -= value / derivative;
    }
    legendre(&value, &derivative, count, root);
    if (2 * i + 1 == count) root = 0.0;
    x[count - 1 - i] = root;
    x[i] = -root;
    weight[i] = weight[count - 1 - i] = 2.0 / ((1.0 - root * root) * derivative * derivative);
  }
}

// (P_n - P_(n+1))(x) over 1 - x, without the factor's zero, and its derivative; n >= 1, |x| < 1.
static void radau(double *value, double *derivative, int n, double x) {
  double p, slope, next, next_slope;
  legendre(&p, &slope, n, x);
  legendre(&next, &next_slope, n + 1, x);
  *value = (p - next) / (1.0 - x);
  *derivative = (slope - next_slope + *value) / (1.0 - x);
}

void cavum_quadrature_radau(double *x, double *weight, int count) {
  CAVUM_ASSERT(count >= 1 && count <= CAVUM_QUADRATURE_MOST);
  for (int i = 0; i < count; i++) {
    double value, derivative, root, known = 0.0;
    // Asymptotic places of the roots of the Jacobi polynomial of (1 - x), which this is; roots that
    // are known are divided out, so that none is found twice.
    root = -cos(CAVUM_PI * (i + 0.75) / (count + 1.0));
    for (int step = 0; step < 8; step++) {
      radau(&value, &derivative, count, root);
      known = 0.0;
      for (int k = 0; k < i; k++) known += 1.0 / (root - x[k]);
      root -= value / (derivative - value * known);
    }
    legendre(&value, &derivative, count, root);
    x[i] = root;
    weight[i] = (1.0 + root) / ((count + 1.0) * (count + 1.0) * value * value);
  }
}
