// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/non_dominated.h
 * Which points of a set no other point beats.
 */
#ifndef CAVUM_SCAN_NON_DOMINATED_H
#define CAVUM_SCAN_NON_DOMINATED_H

#include <stdint.h>

#include "base/base.h"
#include "cavum/status.h"

/**
 * Marks the non-dominated points: those for which no other point is at most as large in every value
 * and smaller in one. Points that are equal in every value are marked together or not at all.
 *
 * Up to two values: sort and sweep. More: divide and conquer [Kung1975], here with all values of a
 * kind that ties or repeats; about n log(n)^(num_values - 2) steps for n points.
 *
 * @param[out] marks       Shape [count]; untouched unless CAVUM_OK.
 * @param[in]  values      Shape [count, num_values], finite; smaller is better.
 * @param[in]  count       Points.
 * @param[in]  num_values  1 or more.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_RANGE   more than 2^31 - 1 points.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_non_dominated_mark(bool *marks, const double *values,
                                                    int64_t count, int num_values,
                                                    cavum_error *error);

#endif
