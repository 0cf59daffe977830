// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solution_compute.h
 * One step of a solve.
 */
#ifndef CAVUM_SOLVE_SOLUTION_COMPUTE_H
#define CAVUM_SOLVE_SOLUTION_COMPUTE_H

#include "solve/solution.h"

/**
 * Solves one solution in place. Storage of a solution of the same topology and degrees is used
 * again.
 * @param[in,out] solution  Zeroed, or solved before; release with cavum_solution_clear() also after
 * an error.
 * @param[in,out] timings  Seconds are added to assembly, eigen and figures; may be NULL.
 */
cavum_status cavum_solution_compute(cavum_solution *solution, const cavum_mesh *mesh, int degree,
                                    const cavum_solution_request *input, cavum_timings *timings,
                                    cavum_error *error);

#endif
