// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/search.h
 * One search from one start.
 */
#ifndef CAVUM_OPTIMUM_SEARCH_H
#define CAVUM_OPTIMUM_SEARCH_H

#include "optimum/point.h"
#include "optimum/rows.h"

/** One solve of a search. */
typedef struct cavum_search_step {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  double objective, violation, residual, radius;
  bool accepted;
} cavum_search_step;

/** A search. Zero-initialise. */
typedef struct cavum_search {
  cavum_optimum_solving *solving; /**< Borrowed. */
  const bool *fixed;              /**< Borrowed, shape [num_variables]: they stay; NULL: none. */
  int most_solves;
  /** Borrowed: an ended search for another goal, whose point and curvature this one goes on from;
   * NULL: none. */
  const struct cavum_search *from;
  bool solves_again; /**< The point of that search is solved anew: it came from other solves. */
  bool uses_up; /**< It also goes on until limits leave but a tenth of the tolerance to gain. */
  cavum_optimum_end end;
  int num_solves;
  cavum_optimum_point *here;   /**< Owned: the best point; NULL: the start is no shape. */
  double residual;             /**< Of the first-order conditions there. */
  double unused;               /**< Part of it: the room of limits times their multipliers. */
  double violation, objective; /**< There. */
  double limit_multiplier[CAVUM_GOAL_MOST_QUANTITIES][2]; /**< Of the least, of the most. */
  double low_multiplier[CAVUM_GOAL_MOST_VARIABLES], high_multiplier[CAVUM_GOAL_MOST_VARIABLES];
  double curvature[CAVUM_GOAL_MOST_VARIABLES][CAVUM_GOAL_MOST_VARIABLES]; /**< As learnt. */
  double penalty;
  bool has_curvature;
  int num_steps;
  int64_t capacity;
  cavum_search_step *steps; /**< Owned, shape [num_steps]. */
} cavum_search;

/**
 * Searches.
 * @param[in,out] search   Solving, fixed and most_solves are set; release with
 *                         cavum_search_clear(), also after a failure.
 * @param[in]     place    Where to start, shape [num_variables]; not read with `from`.
 * @retval CAVUM_ERR_GEOMETRY  and what else says that the start is no shape
 *                             (cavum_optimum_is_no_shape()).
 * @retval CAVUM_ERR_INPUT     a figure that is missing or has no derivative.
 * @retval CAVUM_ERR_STOPPED   with steps: the search has the best point so far, and `end` says so.
 */
cavum_status cavum_search_run(cavum_search *search, const double *place, cavum_error *error);

/** Whether a search that ended has a point within the limits, to the accuracy asked for. Its
 * solving is that of the same limits. */
bool cavum_search_is_within(const cavum_search *search);

/**
 * How many places along the walls a step from where a search ended has no room for.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_search_count_left_out(int *count, const cavum_search *search,
                                         cavum_error *error);

/**
 * Whether a search came to something better than another: one that is met before one that is not,
 * one within the limits before one that is not, of these one on its frequency before one off it.
 */
bool cavum_search_is_better(const cavum_search *search, const cavum_search *than);

/** Frees what a search owns. */
void cavum_search_clear(cavum_search *search);

#endif
