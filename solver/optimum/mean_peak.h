// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/mean_peak.h
 * The mean of a peak over tolerances. A peak is the largest of the values along the wall: where
 * places compete, or the top is flat and moves, the mean of the largest is above the largest mean.
 */
#ifndef CAVUM_OPTIMUM_MEAN_PEAK_H
#define CAVUM_OPTIMUM_MEAN_PEAK_H

#include "optimum/point.h"

/** Points of the wall that may be the peak within the tolerances. Zero-initialise. */
typedef struct cavum_mean_peak {
  int num_points, num_tolerances;
  const cavum_optimum_wall_point **points; /**< Owned list, shape [num_points]: of the value. */
  double *value;                           /**< Owned, shape [num_points]: nominal, SI. */
  double *slope; /**< Owned, shape [num_points, num_tolerances]: by one standard deviation. */
  bool *joined;  /**< Owned, shape [num_points]: to the next of them. */
  double *part;  /**< Owned, shape [num_points]: derivative of the mean by each value. */
  double *along; /**< Owned, shape [num_points, num_tolerances]: by each slope. */
} cavum_mean_peak;

/**
 * Lists the points of a nominal value that come near its peak.
 * @param[out] peak  Release with cavum_mean_peak_clear(), also after a failure. Borrows the points.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mean_peak_list(cavum_mean_peak *peak, const cavum_optimum_value *value,
                                  const cavum_goal *goal, cavum_error *error);

/** Frees what it owns. */
void cavum_mean_peak_clear(cavum_mean_peak *peak);

/** The mean of the largest along the wall, each value to first order; `part` and `along` are set.
 */
double cavum_mean_peak_find(cavum_mean_peak *peak, const cavum_goal *goal);

/** The same point of a neighbour; NULL: it is not among those of the neighbour. */
const cavum_optimum_wall_point *cavum_mean_peak_match(const cavum_optimum_value *value,
                                                      const cavum_optimum_value *neighbour,
                                                      cavum_index index);

/**
 * Makes a nominal peak its mean. Its places stay, since none can be above the mean; a place more
 * has the value and the derivatives of the mean itself.
 * @param[in]  bend  SI: what curvature of the values at each point adds.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mean_peak_take(cavum_optimum_value *value, const cavum_goal *goal,
                                  const cavum_goal_quantity *quantity, double bend,
                                  cavum_error *error);

#endif
