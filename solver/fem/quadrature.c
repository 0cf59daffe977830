// SPDX-License-Identifier: GPL-3.0-or-later
// Gauss-Legendre rules by Newton's method on the Legendre polynomial.
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
