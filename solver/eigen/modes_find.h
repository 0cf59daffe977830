// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/modes_find.h
 * Modes without good guesses: the lowest, or those nearest to a frequency.
 */
#ifndef CAVUM_EIGEN_MODES_FIND_H
#define CAVUM_EIGEN_MODES_FIND_H

#include "eigen/modes.h"

/**
 * The lowest modes.
 *
 * The shift lies below them all: a prediction from guess when there is one (lowered until the
 * matrix is positive definite), else zero, or a negative one where the static mode makes zero an
 * eigenvalue.
 *
 * @param[out] modes   Untouched unless CAVUM_OK.
 * @param[in]  pencil, condensed  Workspace; left factorised at the shift used.
 * @param[in]  count   Modes wanted; fewer are returned only if the space is smaller.
 * @param[in]  guess   Modes of a lower degree, embedded, or NULL: gives the shift and the start.
 * @param[in]  tolerance  Of the iteration, relative, on the inverted eigenvalues.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_modes_find_lowest(cavum_modes *modes, cavum_pencil *pencil,
                                     cavum_condensed *condensed, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error);

/**
 * The modes whose k, and so whose frequency, is nearest to a given one; otherwise like
 * cavum_modes_find_lowest(). The iteration finds those nearest to the shift in k^2: the shift moves
 * up, and more modes are taken, until none nearer in k can be outside of them.
 *
 * @param[in]  spare      Further modes about these, not always the next ones in k.
 * @param[in]  k2_per_m2  The square of that k.
 */
cavum_status cavum_modes_find_near(cavum_modes *modes, cavum_pencil *pencil,
                                   cavum_condensed *condensed, int count, int spare,
                                   double k2_per_m2, const cavum_modes *guess, double tolerance,
                                   cavum_error *error);

/** The modes nearest to the shift that the pencil is factorised at, the static one among them;
 * otherwise like cavum_modes_find_lowest(). */
cavum_status cavum_modes_find_around(cavum_modes *modes, cavum_pencil *pencil, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error);

#endif
