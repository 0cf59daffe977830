// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/mean_shift.h
 * What curvature adds to the means of figures over tolerances.
 */
#ifndef CAVUM_OPTIMUM_MEAN_SHIFT_H
#define CAVUM_OPTIMUM_MEAN_SHIFT_H

#include "optimum/point.h"

/** Whether tolerances change the mean of a quantity: one of the first cell that is not held
 * exactly. k_cc stays nominal, and so does a limit that the goal does not name. */
bool cavum_mean_shift_is_of(const cavum_goal_quantity *quantity);

/**
 * Half the trace of C H of each quantity at a place, by exact derivatives of shapes one standard
 * deviation to both sides along the columns of a root of the covariance C. Of a peak it is that of
 * the points of the wall, each by how often it is the peak. Of a figure of the shape that is the
 * smaller one of two alike halves it is the mean of the smaller one.
 * @param[out] shift  Shape [quantities], SI; 0 of those that have none.
 * @param[in]  place  Shape [num_variables].
 * @retval CAVUM_ERR_INPUT  a figure without a derivative by a dimension with a tolerance. Else as
 *                          cavum_solver_solve().
 */
cavum_status cavum_mean_shift_find(double *shift, const cavum_goal *goal,
                                   cavum_optimum_solving *solving, const double *place,
                                   cavum_error *error);

#endif
