// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/model.h
 * The subproblem of one step: a quadratic programme with bounds that are variables themselves.
 *
 *     least  gradient d + d' curvature d / 2 + sum_j weight_j t_j + penalty s
 *     with   constant + slope d <= t_j   of rows with a bound t_j of their own
 *            constant + slope d <= s     of the others
 *            low <= d <= high,  s >= 0
 *
 * s makes every such problem one that has a solution.
 */
#ifndef CAVUM_OPTIMUM_MODEL_H
#define CAVUM_OPTIMUM_MODEL_H

#include "optimum/goal.h"

/** Room for rows; the bounds are not among them. */
enum { CAVUM_MODEL_MOST_ROWS = 640, CAVUM_MODEL_MOST_BOUNDS = CAVUM_GOAL_MOST_TERMS };

/** One inequality. */
typedef struct cavum_model_row {
  double constant;
  double slope[CAVUM_GOAL_MOST_VARIABLES];
  int bound; /**< Index of its t; -1: it is a limit. */
} cavum_model_row;

/** A subproblem. */
typedef struct cavum_model {
  int num_variables, num_bounds, num_rows;
  double gradient[CAVUM_GOAL_MOST_VARIABLES];
  double curvature[CAVUM_GOAL_MOST_VARIABLES][CAVUM_GOAL_MOST_VARIABLES];
  double weight[CAVUM_MODEL_MOST_BOUNDS];
  double penalty;
  double low[CAVUM_GOAL_MOST_VARIABLES], high[CAVUM_GOAL_MOST_VARIABLES];
  cavum_model_row rows[CAVUM_MODEL_MOST_ROWS];
  int num_left_out; /**< Rows without room: those of places that are the farthest from mattering. */
} cavum_model;

/** Its solution. */
typedef struct cavum_model_solution {
  double step[CAVUM_GOAL_MOST_VARIABLES];
  double bound[CAVUM_MODEL_MOST_BOUNDS];
  double excess;                            /**< s. */
  double multiplier[CAVUM_MODEL_MOST_ROWS]; /**< Of the rows, >= 0. */
  double at_low[CAVUM_GOAL_MOST_VARIABLES]; /**< Of the bounds of d, >= 0. */
  double at_high[CAVUM_GOAL_MOST_VARIABLES];
  double value; /**< Of what is least. */
} cavum_model_solution;

/**
 * Solves a subproblem.
 * @param[out] solution  Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_LIBRARY  a curvature that is not positive.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_model_solve(cavum_model_solution *solution, const cavum_model *model,
                               cavum_error *error);

#endif
