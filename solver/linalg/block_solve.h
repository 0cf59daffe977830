// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/block_solve.h
 * Solves with a factorisation, and the signs of its last pivots.
 */
#ifndef CAVUM_LINALG_BLOCK_SOLVE_H
#define CAVUM_LINALG_BLOCK_SOLVE_H

#include "linalg/block_factor.h"

/**
 * Solves in place; x in order of elimination (row_of_block), shape [count][stride]. What lies
 * behind the rows and the spare one is work space.
 * @param[in] num_closed  Shape [count]: as many rows at the end are left out of the matrix for that
 *                        side: zero in the solution.
 * @param[in] count       1 to CAVUM_RHS_MOST.
 * @param[in] stride      num_places or more.
 */
void cavum_block_factor_solve(double *x, cavum_block_factor *factor, const cavum_index *num_closed,
                              int count, cavum_index stride);

/** Negative pivots of the last rows. */
int64_t cavum_block_factor_count_negative(const cavum_block_factor *factor, cavum_index num_last);

#endif
