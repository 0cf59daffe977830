// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/quantile.h
 * The value that a stated share of a weighted set stays below.
 */
#ifndef CAVUM_CANVAS_QUANTILE_H
#define CAVUM_CANVAS_QUANTILE_H

#include "cavum/status.h"

/**
 * Smallest value at which the weights of the values up to it reach `share` of all.
 * @param[out] value    0 when no value is finite; untouched unless CAVUM_OK.
 * @param[in]  values   Shape [count]; those that are not finite are left out.
 * @param[in]  weights  Shape [count], >= 0; NULL: all 1.
 * @param[in]  count    Of them.
 * @param[in]  share    0 to 1; 1 gives the largest.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_quantile_find(double *value, const double *values, const double *weights,
                                 int count, double share, cavum_error *error);

#endif
