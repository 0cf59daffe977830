// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/problem.h
 * One problem under way: a cell with its ends as they are, or one of those that the coupling and
 * close modes need.
 */
#ifndef CAVUM_SOLVE_PROBLEM_H
#define CAVUM_SOLVE_PROBLEM_H

#include "solve/ladder_state.h"

/** A solve of one problem. */
typedef struct cavum_problem {
  const cavum_cell *cell;                    /**< Borrowed. */
  const cavum_solve_options *options;        /**< Borrowed. */
  cavum_problem_memory *memory;              /**< Borrowed: of this problem for the cells before. */
  cavum_mesh_notes notes;                    /**< Of a mesh file. */
  bool half_model;                           /**< Only the right of the mirror plane has a mesh. */
  cavum_ladder ladder;                       /**< Owned: the last one. */
  cavum_ladder_request request;              /**< What it was asked for. */
  cavum_work work;                           /**< What may be done, and was. */
  cavum_result *result;                      /**< Owned: being made. */
  int64_t steps_capacity, warnings_capacity; /**< Of the result. */
} cavum_problem;

/** Appends the steps of the last ladder to the result. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_problem_keep_steps(cavum_problem *problem, cavum_error *error);

/** Adds a warning to the result; an empty text is none. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_problem_warn(cavum_problem *problem, const char *text, cavum_error *error);

#endif
