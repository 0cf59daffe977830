// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/free_wall.h
 * From the best shape of two ellipses to a goal whose wall is a spline of free points.
 */
#ifndef CAVUM_OPTIMUM_FREE_WALL_H
#define CAVUM_OPTIMUM_FREE_WALL_H

#include "optimum/goal.h"
#include "yaml/reader.h"

/**
 * Reads the section `free_wall` of a goal file, where there is one, and says what of the rest of
 * the goal a wall that is a spline does not have. A limit on the curvature of the iris becomes one
 * on the splines.
 *
 * @param[in,out] goal    Everything else of it was read.
 * @param[in]     reader  Of the goal file.
 * @retval CAVUM_ERR_INPUT
 */
cavum_status cavum_free_wall_read(cavum_goal *goal, const cavum_yaml_reader *reader);

/**
 * Makes the goal of a free wall. Its base cell is a path whose wall from iris to iris is one spline
 * through points of the best shape, with the directions of the wall at its ends. Each point between
 * iris and equator moves along the normal of that wall: the coordinate that changes more is the
 * variable, the other one is linked to it, and so is the mirror image in a cell whose halves agree.
 * The radius of the equator holds the frequency.
 *
 * @param[out] free_goal  Owned by the caller (cavum_goal_close()); untouched unless CAVUM_OK.
 * @param[in]  goal   With a free wall.
 * @param[in]  best   Its best shape.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a spline through these points is no wall.
 * @retval CAVUM_ERR_INPUT     as cavum_goal_open_text(), and so the next.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_free_wall_open(cavum_goal **free_goal, const cavum_goal *goal,
                                  const cavum_optimum *best, cavum_error *error);

#endif
