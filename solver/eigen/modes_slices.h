// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/modes_slices.h
 * Many modes, one slice of the spectrum after the other: shift-invert Lanczos about a shift in each
 * [GrimesLewisSimon1994]. The inertia at every shift numbers the modes, so that none is missed or
 * taken twice where slices meet, and the cost of a mode does not grow with their number.
 */
#ifndef CAVUM_EIGEN_MODES_SLICES_H
#define CAVUM_EIGEN_MODES_SLICES_H

#include "eigen/mode_block.h"

/** What is looked for. */
typedef struct cavum_slices_request {
  int wanted;             /**< Modes of all tasks together. */
  double near_per_m2;     /**< The square of k: those whose k is nearest to it; 0: the lowest. */
  double modes_per_k2_m2; /**< Roughly how many modes of all tasks there are per k^2. */
  double tolerance;       /**< Of the iteration, relative, on the inverted eigenvalues. */
} cavum_slices_request;

/**
 * The modes of all tasks at all levels of their pencils, those of the lower ones by projection.
 *
 * @param[in,out] tasks  Shape [count]; pencil and modes are used, at the end modes holds all modes
 *                       of its class among those that are wanted, and a few behind. Levels that the
 *                       projection does not reach stay empty. Nothing is kept after an error.
 * @param[in]  condensed  Workspace; the pencils are left factorised at some shift.
 * @retval CAVUM_ERR_LIBRARY  also where slices do not fit together: a mode was missed.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_modes_find_in_slices(const cavum_block_task *tasks, int count,
                                        cavum_condensed *condensed,
                                        const cavum_slices_request *request, cavum_error *error);

#endif
