// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/reach.h
 * How near shapes within the bounds come to a limit on the shape, which takes no solve: what none
 * of them keeps is told before any is made.
 */
#ifndef CAVUM_OPTIMUM_REACH_H
#define CAVUM_OPTIMUM_REACH_H

#include "optimum/goal.h"

/** The shape that comes nearest to a limit, of those that were looked at. */
typedef struct cavum_reach {
  bool any;      /**< There are shapes within the bounds. */
  double excess; /**< By how much it breaks the limit, as cavum_rows_excess(); <= 0: it does not. */
  double value;  /**< Of the figure there, SI. */
} cavum_reach;

/** Excess from which a limit counts as out of reach: what a search along a curve leaves of a value
 * that is held exactly is far below. */
#define CAVUM_REACH_BROKEN 1e-4

/**
 * Looks for a shape that keeps a limit: at points of the box, then along steps from the best.
 * Ends with the first that keeps it.
 * @param[in] quantity  A limit on a figure of the shape (cavum_optimum_is_of_shape()).
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_reach_find(cavum_reach *reach, const cavum_goal *goal, int quantity,
                              cavum_error *error);

#endif
