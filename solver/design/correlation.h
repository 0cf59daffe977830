// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/correlation.h
 * Correlated draws.
 */
#ifndef CAVUM_DESIGN_CORRELATION_H
#define CAVUM_DESIGN_CORRELATION_H

#include <stdbool.h>

/**
 * Lower triangle L with L L^T = C of a correlation matrix, which may be singular.
 * @param[out] root         Shape [count, count], row-major.
 * @param[in]  correlation  Shape [count, count].
 * @return false where nothing is correlated like this: C has a negative eigenvalue.
 */
bool cavum_correlation_root(double *root, const double *correlation, int count);

#endif
