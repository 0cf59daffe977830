// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/parabola.h
 * Weighted least squares with a line or a parabola, the fit behind decay slopes.
 */
#ifndef CAVUM_COLDTEST_PARABOLA_H
#define CAVUM_COLDTEST_PARABOLA_H

#include <stdbool.h>
#include <stdint.h>

/** y = c[0] + c[1] s + c[2] q(s) with s = (x - centre) / scale. q(s) is s^2, or for ln of a power
    that decays what losses do to it that are proportional to the power: the integral of
    2 (exp(a s + b s^2) - 1) / a, with a and b those of the parabola. Value and slope at the centre
    are c[0] and c[1] with both. */
typedef struct cavum_parabola {
  int num_terms; /**< 2 or 3. */
  int64_t count; /**< Of the points. */
  double centre, scale;
  double coefficient[3];
  double rise[2];          /**< a and b; a of 0: q(s) = s^2. */
  double covariance[3][3]; /**< Inverse of the weighted normal matrix: for weights 1/sigma^2. */
  double chi_squared;      /**< Weighted sum of the squared residuals. */
} cavum_parabola;

/**
 * Fits by normal equations: s runs from -1 to 1, so that the
 * 3 x 3 matrix is well conditioned.
 * @param[out] fit        Untouched when false comes back.
 * @param[in]  x          Rising, shape [count].
 * @param[in]  y          Shape [count].
 * @param[in]  weight     1/sigma^2, shape [count]; NULL: all 1.
 * @param[in]  count      > num_terms.
 * @param[in]  num_terms  2: line, 3: parabola.
 * @returns False when the matrix is singular.
 */
bool cavum_parabola_fit(cavum_parabola *fit, const double *x, const double *y, const double *weight,
                        int64_t count, int num_terms);

/**
 * Fits once more with the curvature of a decay whose losses rise with its power.
 * @param[in,out] fit  A parabola of ln of the power; untouched when false comes back.
 * @param[in]     x, y, weight  Those of its fit.
 * @returns False when the power does not fall all along the parabola, or the matrix is singular.
 */
bool cavum_parabola_fit_losses(cavum_parabola *fit, const double *x, const double *y,
                               const double *weight);

/** Value at x. */
double cavum_parabola_value(const cavum_parabola *fit, double x);

#endif
