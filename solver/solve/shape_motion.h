// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/shape_motion.h
 * How the contour of a cell and what else figures are made of move with its dimensions.
 */
#ifndef CAVUM_SOLVE_SHAPE_MOTION_H
#define CAVUM_SOLVE_SHAPE_MOTION_H

#include "cell/dimension.h"
#include "solve/problem.h"

/** All dimensions of a cell. */
typedef struct cavum_shape_motion {
  cavum_cell_dimensions dimensions; /**< Owned. */
  cavum_index num_curves;           /**< Of the mesh. */
  cavum_curve_rate *rates;          /**< Owned, shape [count][num_curves]; of a half model what is
                                         even about its plane of the whole motion. */
  cavum_curve_rate *odd;   /**< Owned, likewise: what is odd; NULL of a whole cell, or where
                                it is of no account. */
  bool *has_odd;           /**< Owned, shape [count]: there is some. */
  cavum_index (*moved)[2]; /**< Owned, shape [count]: the first curve that moves, and the one behind
                                the last. */
  cavum_cell_rate *others; /**< Owned, shape [count]: beta and the accelerating length. */
  bool *smooth;            /**< Owned, shape [count]: the contour moves smoothly with it. */
  double *turned_tip; /**< Owned, shape [count]: the exponent nu (element/singular_exponent.h) at an
                         end of the axis, where a wall that meets it at a right angle, and makes no
                         singular field so, turns to another angle; 0: no wall does. */
} cavum_shape_motion;

/**
 * Finds how the curves of the mesh of a problem move.
 * @param[in,out] motion  Zeroed; release it with cavum_shape_motion_clear(), also after an error.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_motion_make(cavum_shape_motion *motion, const cavum_problem *problem,
                                     cavum_error *error);

/**
 * Fills the dimensions of a result.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_motion_describe(cavum_result *result, const cavum_shape_motion *motion,
                                         cavum_error *error);

/** Frees what it owns. */
void cavum_shape_motion_clear(cavum_shape_motion *motion);

#endif
