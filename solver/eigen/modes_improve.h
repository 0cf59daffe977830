// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/modes_improve.h
 * One mode from a guess, or from none to a few digits.
 */
#ifndef CAVUM_EIGEN_MODES_IMPROVE_H
#define CAVUM_EIGEN_MODES_IMPROVE_H

#include "eigen/modes.h"

/** Shift over the k^2 of the last mode that is improved: the factorisation then counts them. */
#define CAVUM_SHIFT_ABOVE 1.01
/** A close one: what is solved for with the factors afterwards, in the space without the mode,
 * takes one solve and not two. The mode of the lowest level must be below it. */
#define CAVUM_SHIFT_CLOSE 1.0001

/**
 * Improves a guess of the lowest mode by inverse iteration, at all levels of the pencil.
 *
 * The number of modes below the shift must come out as the guess says; otherwise, or when the
 * iteration does not settle, nothing is returned and the modes have to be found anew. The
 * shift lies 1 % above the mode: num_negative of a level then certifies that there is no other
 * below. A close one is tried first where that is asked for, of a pencil that is not lean.
 *
 * @param[out] modes      Shape [pencil->num_levels], filled only when settled.
 * @param[out] settled    Whether it worked out.
 * @param[in]  pencil, condensed  Workspace; left factorised.
 * @param[in]  close      Try CAVUM_SHIFT_CLOSE first.
 * @param[in]  guess      One mode, the lowest of the class: of a lower degree, embedded, or of a
 *                        neighbouring shape.
 * @param[in]  accuracy   Relative error of the vectors that is small enough, times the factor of
 *                        the guess.
 */
cavum_status cavum_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                 cavum_condensed *condensed, bool close, const cavum_modes *guess,
                                 double accuracy, cavum_error *error);

/**
 * The lowest mode to a few digits at the lowest degree of the pencil, by inverse iteration with no
 * shift from a smooth start; not for problems with a static mode. `mode` stays as it is where
 * rounding leaves nothing of it.
 */
cavum_status cavum_modes_find_roughly(cavum_modes *mode, cavum_pencil *pencil,
                                      cavum_condensed *condensed, cavum_error *error);

#endif
