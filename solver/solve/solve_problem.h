// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solve_problem.h
 * The solution of one problem: meshes, ladders, uncertainties, result, completeness.
 */
#ifndef CAVUM_SOLVE_SOLVE_PROBLEM_H
#define CAVUM_SOLVE_SOLVE_PROBLEM_H

#include "solve/problem_memory.h"

/**
 * Solves a cell with its ends as they are. What fails with a memory of the cells before is tried
 * once more without, since a neighbour may mislead; after an error in the solution the memory is
 * empty.
 * @param[out] result      Untouched unless CAVUM_OK.
 * @param[in]  half_model  Only the right of the mirror plane.
 */
cavum_status cavum_problem_solve(cavum_result **result, cavum_problem_memory *memory,
                                 const cavum_cell *cell, const cavum_solve_options *options,
                                 bool half_model, cavum_error *error);

#endif
