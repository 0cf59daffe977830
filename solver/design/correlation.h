// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/correlation.h
 * Correlated draws.
 */
#ifndef CAVUM_DESIGN_CORRELATION_H
#define CAVUM_DESIGN_CORRELATION_H

#include <math.h>
#include <stdbool.h>

#include "cavum/tolerance.h"

/**
 * Lower triangle L with L L^T = C of a correlation matrix, which may be singular.
 * @param[out] root         Shape [count, count], row-major.
 * @param[in]  correlation  Shape [count, count].
 * @return false where nothing is correlated like this: C has a negative eigenvalue.
 */
bool cavum_correlation_root(double *root, const double *correlation, int count);

/** Standard deviation of a dimension, in the unit of its key. */
static inline double cavum_tolerance_deviation(const cavum_tolerance *tolerance) {
  bool normal = tolerance->kind == CAVUM_TOLERANCE_NORMAL;
  return normal ? tolerance->width : tolerance->width / sqrt(3.0);
}

/**
 * Correlation of normal draws that a normal copula makes draws of the tolerances of: of uniform
 * ones 2 sin(pi c / 6) gives them c.
 * @param[out] correlation  Shape [count, count].
 */
void cavum_correlation_of_draws(double *correlation, const cavum_tolerances *tolerances);

#endif
