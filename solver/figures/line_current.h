// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/line_current.h
 * The field of a line current on the axis, at many radii at once.
 *
 * A current exp(j k_z z) on the axis has, but for a common factor, H_phi = kappa K_1(kappa r) and
 * E_z = (j kappa^2 / (w eps0)) K_0(kappa r) with kappa^2 = k_z^2 - k^2 [Harrington2001] ch. 5-1.
 * Times r they are smooth near the axis but for logarithms. K_0, K_1 and Y_0 are taken from their
 * series [Olver2010] 10.31 and 10.8.2 up to x = 8, where these lose four digits of sixteen.
 */
#ifndef CAVUM_FIGURES_LINE_CURRENT_H
#define CAVUM_FIGURES_LINE_CURRENT_H

#include "base/lanes.h"

enum { CAVUM_LINE_TERMS = 24 };

/** Coefficients in y = (x / 2)^2: of I_0 and of I_1 / (x / 2), and those of the sums with harmonic
 * numbers that go with their logarithms. */
typedef struct cavum_line_series {
  double i0[CAVUM_LINE_TERMS], h0[CAVUM_LINE_TERMS], i1[CAVUM_LINE_TERMS], h1[CAVUM_LINE_TERMS];
} cavum_line_series;

/** The coefficients, for any number of calls. */
void cavum_line_fill(cavum_line_series *series);

/**
 * x K_1(x) and x K_0(x), to 3e-12 of one.
 * @param[out] xk1, xk0  Shape [count].
 * @param[in]  x, log_x  Shape [count]: x >= 0 and its logarithm, anything finite where x is 0.
 */
void cavum_line_slow(cavum_lanes *xk1, cavum_lanes *xk0, const cavum_lanes *x,
                     const cavum_lanes *log_x, int count, const cavum_line_series *series);

/** Their error in sums over x up to a largest one, of one. */
double cavum_line_rounding(double largest_x);

/** -(pi/2) x Y_0(x) in the place of x K_0(x): for a current that is the same everywhere, k_z = 0.
 */
void cavum_line_uniform(cavum_lanes *xy0, const cavum_lanes *x, const cavum_lanes *log_x, int count,
                        const cavum_line_series *series);

/** The derivative of that by x, given it; anything finite where x is 0. */
void cavum_line_uniform_slope(cavum_lanes *slope, const cavum_lanes *xy0, const cavum_lanes *x,
                              const cavum_lanes *log_x, int count, const cavum_line_series *series);

#endif
