// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/projection.h
 * The modes of lower degrees that belong to those of the highest.
 *
 * With A x = theta M x at the highest degree, y = theta A_l^-1 M x is the Galerkin projection of x
 * to a lower level. Of what that level lacks, functions of high k^2, it shows the same as the modes
 * of the level do, but for the ratio of the two k^2; how modes of the block mix is seen by
 * Rayleigh-Ritz in the span of their projections. Where these are close to the modes, the products
 * that this needs are at hand. Both have been left by the iteration at nearly the same place, which
 * matters little for their difference.
 */
#ifndef CAVUM_EIGEN_PROJECTION_H
#define CAVUM_EIGEN_PROJECTION_H

#include "eigen/block_modes.h"

/**
 * Makes the guesses of all tasks the modes of the level that has their degree, where they are as
 * accurate as those of the highest are to be, and belong to them one by one.
 *
 * @param[in]     tasks  Shape [count], with modes[0]; all or none of them get modes of the level.
 * @param[in,out] guess  Shape [count]: of each task; emptied where it is taken.
 */
void cavum_projection_take_guesses(const cavum_block_task *tasks, cavum_modes *const *guess,
                                   int count);

/**
 * Fills the lower levels of all tasks, where they are empty, from their highest, modes[0]: the
 * modes that are wanted and those nearly degenerate with the last of them
 * (cavum_block_with_neighbours()). A level whose modes are too far from those is iterated for; one
 * that has too few unknowns for them, or where that does not settle, stays empty, and so do all for
 * more than CAVUM_TALL_SKINNY_MOST modes.
 *
 * @param[in] tasks  Shape [count]; guesses are not used. The shift keeps away from all modes.
 * @param[in] mx     Shape [count]: M x of these modes.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_projection_fill(const cavum_block_task *tasks, int count,
                                   const double *const *mx, cavum_error *error);

/** The same for a single task, all modes of its highest level, without M x. */
cavum_status cavum_projection_fill_class(const cavum_block_task *task, cavum_error *error);

#endif
