// SPDX-License-Identifier: GPL-3.0-or-later
// Bessel functions of the second kind: power series, and asymptotic forms beyond.
#include "figures/line_current.h"

#include "base/base.h"
#include "base/fast.h"

static const double SERIES_MOST = 8.0;
// Rounding of the series over sqrt(x) exp(x): at their end it is 3e-12.
static const double ROUNDING = 4e-16;
static const double EULER_LESS_LOG_2 = 0.57721566490153286061 - 0.69314718055994530942;

// K_n(x) = sqrt(pi / (2 x)) exp(-x) p_n(8 / x) for x >= 8: polynomials through the values at eight
// Chebyshev points of 8 / x in [0, 1], from 40 digits; good to 3e-12 of K_n, which is below 2e-4.
enum { FAR_TERMS = 8 };
static const double FAR_0[FAR_TERMS] = {
    0.99999999999769194,   -0.015624999703592628,  0.0010986264830435043, -0.00014299883152019626,
    2.7163625873371243e-5, -6.4216571343423664e-6, 1.4713111086582518e-6, -2.0509833764643122e-7};
static const double FAR_1[FAR_TERMS] = {
    1.0000000000026712,   0.046874999656978468, -0.0018310473646385278, 0.00020021111161764345,
    -3.49529971104181e-5, 7.883667835408959e-6, -1.7612152767659861e-6, 2.4244833537510416e-7};

void cavum_line_fill(cavum_line_series *series) {
  double square = 1.0, harmonic = 0.0;  // 1 / n!^2 and 1 + 1/2 + ... + 1/n
  for (int n = 0; n < CAVUM_LINE_TERMS; n++) {
    if (n > 0) square /= (double)n * n;
    if (n > 0) harmonic += 1.0 / n;
    double next = harmonic + 1.0 / (n + 1);
    series->i0[n] = square;
    series->h0[n] = harmonic * square;
    series->i1[n] = square / (n + 1);
    series->h1[n] = 0.5 * (harmonic + next) * square / (n + 1);
  }
}

// x K_0(x); with sign -1 that of j x, -(pi/2) x Y_0(x).
CAVUM_FAST static void sum_order_0(cavum_lanes *restrict xk0, const cavum_lanes *restrict x,
                                   const cavum_lanes *restrict log_x, const cavum_line_series *s,
                                   double sign, int terms, int count) {
  for (int i = 0; i < count; i++) {
    cavum_lanes y = sign * 0.25 * x[i] * x[i], i0 = {0}, h0 = {0};
    for (int n = terms - 1; n >= 0; n--) {
      i0 = i0 * y + s->i0[n];
      h0 = h0 * y + s->h0[n];
    }
    xk0[i] = x[i] * (h0 - (log_x[i] + EULER_LESS_LOG_2) * i0);
  }
}

// x K_1(x); with sign -1 that of j x, -(pi/2) x Y_1(x).
CAVUM_FAST static void sum_order_1(cavum_lanes *restrict xk1, const cavum_lanes *restrict x,
                                   const cavum_lanes *restrict log_x, const cavum_line_series *s,
                                   double sign, int terms, int count) {
  for (int i = 0; i < count; i++) {
    cavum_lanes y = sign * 0.25 * x[i] * x[i], i1 = {0}, h1 = {0};
    for (int n = terms - 1; n >= 0; n--) {
      i1 = i1 * y + s->i1[n];
      h1 = h1 * y + s->h1[n];
    }
    xk1[i] = 1.0 + 2.0 * y * ((log_x[i] + EULER_LESS_LOG_2) * i1 - h1);
  }
}

// How many terms it takes up to the largest x for the next to be below 1e-17: found by trial.
static int count_terms(const cavum_lanes *x, int count) {
  double largest = 0.0;
  for (int i = 0; i < count * CAVUM_LANES; i++) {
    largest = cavum_max(largest, x[i / CAVUM_LANES][i % CAVUM_LANES]);
  }
  return largest < SERIES_MOST ? 8 + (int)(2.0 * largest) : CAVUM_LINE_TERMS;
}

static double polynomial(const double *coeff, double u) {
  double sum = 0.0;
  for (int n = FAR_TERMS - 1; n >= 0; n--) sum = sum * u + coeff[n];
  return sum;
}

void cavum_line_slow(cavum_lanes *xk1, cavum_lanes *xk0, const cavum_lanes *x,
                     const cavum_lanes *log_x, int count, const cavum_line_series *series) {
  int terms = count_terms(x, count);
  sum_order_0(xk0, x, log_x, series, 1.0, terms, count);
  sum_order_1(xk1, x, log_x, series, 1.0, terms, count);
  for (int i = 0; i < count * CAVUM_LANES; i++) {
    double at = x[i / CAVUM_LANES][i % CAVUM_LANES];
    if (!(at > SERIES_MOST)) continue;
    double factor = sqrt(0.5 * CAVUM_PI * at) * exp(-at), u = SERIES_MOST / at;
    xk1[i / CAVUM_LANES][i % CAVUM_LANES] = factor * polynomial(FAR_1, u);
    xk0[i / CAVUM_LANES][i % CAVUM_LANES] = factor * polynomial(FAR_0, u);
  }
}

double cavum_line_rounding(double largest_x) {
  double x = cavum_min(largest_x, SERIES_MOST);
  return ROUNDING * sqrt(x) * exp(x);
}

void cavum_line_uniform(cavum_lanes *xy0, const cavum_lanes *x, const cavum_lanes *log_x, int count,
                        const cavum_line_series *series) {
  sum_order_0(xy0, x, log_x, series, -1.0, count_terms(x, count), count);
  for (int i = 0; i < count * CAVUM_LANES; i++) {
    double at = x[i / CAVUM_LANES][i % CAVUM_LANES];
    if (at > SERIES_MOST) xy0[i / CAVUM_LANES][i % CAVUM_LANES] = -0.5 * CAVUM_PI * at * y0(at);
  }
}

void cavum_line_uniform_slope(cavum_lanes *slope, const cavum_lanes *xy0, const cavum_lanes *x,
                              const cavum_lanes *log_x, int count,
                              const cavum_line_series *series) {
  // With f = -(pi/2) x Y_0 it is f / x + (pi/2) x Y_1.
  sum_order_1(slope, x, log_x, series, -1.0, count_terms(x, count), count);
  for (int i = 0; i < count * CAVUM_LANES; i++) {
    int v = i / CAVUM_LANES, l = i % CAVUM_LANES;
    double at = x[v][l], order_1 = slope[v][l];
    if (at > SERIES_MOST) order_1 = -0.5 * CAVUM_PI * at * y1(at);
    slope[v][l] = at > 0.0 ? xy0[v][l] / at - order_1 : 0.0;
  }
}
