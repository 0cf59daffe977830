// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/mode_start.h
 * What an iteration begins with: a shift below all modes and a start vector.
 */
#ifndef CAVUM_EIGEN_MODE_START_H
#define CAVUM_EIGEN_MODE_START_H

#include "eigen/modes.h"

/**
 * Factorises a pencil at a shift below all its modes: a prediction from guess when there is one
 * (lowered until the matrix is positive definite), else zero, or a negative one where the static
 * mode makes zero an eigenvalue.
 * @param[in] guess  Or NULL.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_mode_start_factorise(cavum_pencil *pencil, cavum_condensed *condensed,
                                        const cavum_modes *guess, cavum_error *error);

/**
 * A smooth deterministic start vector: the sum of the guesses, or ones on the vertices with a small
 * pseudo-random part, so that no symmetry of the shape can hide a mode. Where all vertices lie on
 * magnetic planes, all unknowns of vertices and edges are used.
 * @param[in,out] start  Shape [num_unknowns], zero before.
 * @param[in]     guess  Or NULL.
 */
void cavum_mode_start_fill(double *start, const cavum_pencil *pencil, const cavum_modes *guess);

#endif
