// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/wall_bends.h
 * Curvature, lean and radius along the splines of a wall, which limits see place by place.
 */
#ifndef CAVUM_OPTIMUM_WALL_BENDS_H
#define CAVUM_OPTIMUM_WALL_BENDS_H

#include "optimum/point.h"

/**
 * Fills the figures of a point that are of the splines of a path (`is_of_wall`): the least radius
 * of curvature to one side, the least lean, the least radius as the aperture. Places are equally
 * spaced in each span, and the worst ones between them; of a cell that is its own mirror image
 * those of the right half.
 *
 * @param[in,out] point  Its place is set.
 * @param[in]     c      The cell of the goal.
 * @param[in]     cell   At that place.
 * @retval CAVUM_ERR_INPUT     no metal spline, or a variable that is no dimension.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_bends_take(cavum_optimum_point *point, const cavum_goal *goal, int c,
                                   const cavum_cell *cell, cavum_error *error);

#endif
