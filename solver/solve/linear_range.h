// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/linear_range.h
 * For how large a change of a dimension derivatives hold where modes are close to each other.
 */
#ifndef CAVUM_SOLVE_LINEAR_RANGE_H
#define CAVUM_SOLVE_LINEAR_RANGE_H

#include "solve/problem.h"
#include "solve/shape_motion.h"

/**
 * Warns of each mode whose derivatives hold for small changes alone.
 *
 * A change of the shape mixes two modes of one symmetry by what it couples them with, over their
 * distance (perturbation theory of first order), and what couples them is of the size of what moves
 * them. So derivatives hold for changes that are far below the distance over the larger of the two
 * derivatives of f. The dimension with the least such change is named where that is below a
 * hundredth of the dimension. A neighbour that nobody asked for may not be known. Modes of the two
 * symmetries of a half model are mixed by what moves one of its sides alone.
 * @param[in,out] problem  Solved, with derivatives of f, else nothing is said.
 * @param[in]     motion   Of its dimensions.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_linear_range_warn(cavum_problem *problem, const cavum_shape_motion *motion,
                                     cavum_error *error);

#endif
