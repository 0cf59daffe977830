// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/sample.h
 * Mean, deviation and intervals of a large sample without sorting all of it.
 */
#ifndef CAVUM_COLDTEST_SAMPLE_H
#define CAVUM_COLDTEST_SAMPLE_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

/** Intervals of a sample at one coverage probability. */
typedef struct cavum_sample_intervals {
  double symmetric_low, symmetric_high; /**< Equal shares left out on both sides. */
  double low, high;                     /**< Shortest; only when asked for. */
  double median;                        /**< Only when asked for. */
} cavum_sample_intervals;

/** Mean and standard deviation (divided by count - 1) of a sample, shape [count], count >= 2. */
void cavum_sample_moments(double *mean, double *deviation, const double *values, int64_t count);

/**
 * Intervals after [JCGM101] 7.7 and 5.3.4: q = round(coverage count) values lie in each.
 *
 * One pass sorts the values into equal bins; only the bins of the two tails are then sorted, so the
 * cost is linear in the count for any sample that is not all in a few bins.
 *
 * @param[out] intervals  Untouched unless CAVUM_OK.
 * @param[in]  values     Finite, shape [count]; not changed.
 * @param[in]  count      >= 2.
 * @param[in]  coverage   0 to 1, exclusive.
 * @param[in]  full       Also the shortest interval and the median.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_sample_make_intervals(cavum_sample_intervals *intervals, const double *values,
                                         int64_t count, double coverage, bool full,
                                         cavum_error *error);

#endif
