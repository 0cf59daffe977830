// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/curve_bend.h
 * The mesh of a file with its sides bent to the curves that are guessed behind them.
 */
#ifndef CAVUM_ELEMENT_CURVE_BEND_H
#define CAVUM_ELEMENT_CURVE_BEND_H

#include "element/curve_guess.h"

/**
 * The mesh with its sides moved by a part of the way to the guessed curves, in nodes of two orders
 * more, or of the largest order.
 *
 * @param[out] other  Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  part   0 to 1.
 */
cavum_status cavum_curve_bend(cavum_mesh *other, const cavum_mesh *mesh,
                              const cavum_curve_guess *guess, double part, cavum_error *error);

/**
 * The same by the largest part of 1, 1/2, ... 1/256 of the way at which no element folds or gets
 * much thinner somewhere than it was.
 *
 * @param[out] other  Untouched where *part is 0.
 * @param[out] part   0 where elements fold at every part.
 */
cavum_status cavum_curve_bend_safely(cavum_mesh *other, double *part, const cavum_mesh *mesh,
                                     const cavum_curve_guess *guess, cavum_error *error);

#endif
