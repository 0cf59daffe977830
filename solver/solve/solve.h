// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solve.h
 * The main job with a memory of the cells before.
 */
#ifndef CAVUM_SOLVE_SOLVE_H
#define CAVUM_SOLVE_SOLVE_H

#include "solve/solver_memory.h"

/**
 * cavum_solve() with a memory.
 * @param[in,out] memory   Zeroed, or of the cells before.
 * @param[in]     options  Not NULL.
 */
cavum_status cavum_solve_remembering(cavum_result **result, cavum_solver_memory *memory,
                                     const cavum_cell *cell, const cavum_solve_options *options,
                                     cavum_error *error);

#endif
