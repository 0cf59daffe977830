// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/parabola.h
 * Weighted least squares with a line or a parabola, the fit behind decay slopes.
 */
#ifndef CAVUM_COLDTEST_PARABOLA_H
#define CAVUM_COLDTEST_PARABOLA_H

#include <stdbool.h>
#include <stdint.h>

/** y = c[0] + c[1] s + c[2] s^2 with s = (x - centre) / scale. */
typedef struct cavum_parabola {
  int num_terms; /**< 2 or 3. */
  int64_t count; /**< Of the points. */
  double centre, scale;
  double coefficient[3];
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

/** Value at x. */
double cavum_parabola_value(const cavum_parabola *fit, double x);

#endif
