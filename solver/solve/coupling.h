// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/coupling.h
 * The cell-to-cell coupling from the two modes of a periodic structure.
 */
#ifndef CAVUM_SOLVE_COUPLING_H
#define CAVUM_SOLVE_COUPLING_H

#include "solve/solver_memory.h"

/**
 * Whether a cell has a coupling: two half ellipses from iris to iris, also where the shape was
 * moved.
 * @param[out] exists         Untouched unless CAVUM_OK.
 * @param[in]  of_inner_cell  Planes stand in the place of tubes.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coupling_exists(bool *exists, const cavum_cell *cell, bool of_inner_cell,
                                   cavum_error *error);

/**
 * Whether the inner cell of one that was moved can be made, with its derivatives where they are
 * asked for; others can.
 * @retval CAVUM_ERR_USAGE  it cannot; the message says what stands against it and what to do.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coupling_check_inner(const cavum_cell *cell, bool derivatives,
                                        cavum_error *error);

/**
 * Adds k_cc = 2 (f_pi - f_0) / (f_pi + f_0) to a result, from the same cell with both ends electric
 * (0 mode) and magnetic (pi mode) [Padamsee1998]. With derivatives those of k_cc too, by the
 * dimensions of the result.
 * @param[in,out] memory  Those of the two problems are used.
 */
cavum_status cavum_coupling_add(cavum_result *result, cavum_solver_memory *memory,
                                const cavum_cell *cell, const cavum_solve_options *options,
                                bool half_model, cavum_error *error);

#endif
