// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/condensed_solve.h
 * Solves in the interiors of eliminated elements.
 */
#ifndef CAVUM_FEM_CONDENSED_SOLVE_H
#define CAVUM_FEM_CONDENSED_SOLVE_H

#include "fem/condensed.h"

/**
 * Forward half of a solve in the interiors of one batch.
 * @param[in,out] own     The interior functions of the level, shape [interior][count]: L^-1, then
 *                        D^-1.
 * @param[out]    border  What that adds to the skeleton functions of the highest degree, before
 *                        signs, shape [skeleton][count].
 * @param[in]     count   Right-hand sides, 1 to CAVUM_RHS_MOST.
 */
void cavum_condensed_forward(cavum_lanes *restrict own, cavum_lanes *restrict border,
                             const cavum_condensed *condensed, int level, cavum_index batch,
                             int count);

/** Backward half: own = L^-T (own - L21^T border). */
void cavum_condensed_backward(cavum_lanes *restrict own, const cavum_lanes *restrict border,
                              const cavum_condensed *condensed, int level, cavum_index batch,
                              int count);

#endif
