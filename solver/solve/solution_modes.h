// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solution_modes.h
 * The modes of one solution.
 */
#ifndef CAVUM_SOLVE_SOLUTION_MODES_H
#define CAVUM_SOLVE_SOLUTION_MODES_H

#include "solve/solution.h"

/**
 * Finds the modes of all classes that are asked for, at all degrees of the solution;
 * solution->num_degrees falls where the lower degrees carry too few.
 * @param[in,out] solution  Prepared: its coefficients are those of the present mesh.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_solution_find_modes(cavum_solution *solution,
                                       const cavum_solution_request *input, cavum_error *error);

/** Relative error that the iteration may leave in a vector whose figures do not cancel. */
double cavum_solution_vector_accuracy(const cavum_cell *cell);

#endif
