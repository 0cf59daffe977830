// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/mean.h
 * Means over tolerances: sums alone, without a solve.
 */
#ifndef CAVUM_OPTIMUM_MEAN_H
#define CAVUM_OPTIMUM_MEAN_H

#include "cavum/tolerance.h"

/** Shapes that are drawn for the mean of the largest of several values; half of them are the
 * others mirrored, so that what is linear has no mean. */
enum { CAVUM_MEAN_DRAWS = 2048 };

/**
 * Draws of all tolerances, of a sequence that fills the space evenly.
 * @param[out] draws  Owned by the caller, shape [CAVUM_MEAN_DRAWS, count]: each over the standard
 *                    deviation of its dimension.
 * @retval CAVUM_ERR_INPUT   no dimensions can be correlated like this.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mean_draws_make(double **draws, const cavum_tolerances *tolerances,
                                   cavum_error *error);

/** Values that are linear in the tolerances. */
typedef struct cavum_mean_values {
  int num_values, count;
  const double *value; /**< Shape [num_values]: without a deviation. */
  const double *slope; /**< Shape [num_values, count]: change by one standard deviation of each. */
  const bool *joined;  /**< Shape [num_values]: this one and the next are neighbours on a smooth
                            curve, all equally far apart, whose top between them counts. NULL: none
                            is. */
} cavum_mean_values;

/**
 * Mean of the largest of values that are linear in the tolerances, or of the top of the parabola
 * through the largest and its neighbours.
 * @param[out] part   Shape [num_values]: derivative of the mean by each value; without neighbours
 *                    how often each is the largest.
 * @param[out] along  Shape [num_values, count]: derivative of the mean by each slope.
 * @param[in]  draws  Shape [num_draws, count].
 */
double cavum_mean_of_largest(double *part, double *along, const cavum_mean_values *values,
                             const double *draws, int num_draws);

/**
 * What curvature adds to a mean: half the trace of C H by differences of gradients, 1/4 of the sum
 * over the columns l of a root of C of l (g(x + l) - g(x - l)).
 * @param[in]  low, high  Shape [count]: change by one standard deviation of each, at x - l, x + l.
 * @param[in]  column     Shape [count]: l over the standard deviations.
 * @return the part of this column.
 */
double cavum_mean_bend(const double *low, const double *high, const double *column, int count);

#endif
