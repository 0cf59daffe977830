// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file block_modes.h
 * Several modes at once, of the classes that share one factorisation: from good guesses, and those
 * of lower degrees from those of the highest.
 */
#ifndef CAVUM_BLOCK_MODES_H
#define CAVUM_BLOCK_MODES_H

#include "modes.h"

/** Most classes that are improved together. */
enum { CAVUM_BLOCK_TASKS_MOST = 2 };

/** The modes of one class. */
typedef struct cavum_block_task {
  cavum_pencil *pencil;     /**< Factorised at any shift; the closer to a mode, the faster that one
                                 settles. Those of all tasks share their factors. */
  const cavum_modes *guess; /**< Modes of a lower degree, embedded, or of a neighbouring shape: all
                                 below the highest of them. Some more than are wanted speed up the
                                 last ones. vector_error tells how good they are, 1: not known. */
  int wanted;         /**< Modes to be accurate; those beyond are only better than the guess. */
  double accuracy;    /**< Relative error of the vectors that is small enough. */
  bool by_factors;    /**< Times the accuracy_factor of each. */
  cavum_modes *modes; /**< Shape [pencil->num_levels], empty: the results go here; as many as
                           the guess at the highest level, those wanted at the lower ones. */
} cavum_block_task;

/**
 * Improves guesses at the highest level and projects them to the lower ones.
 *
 * @param[out] settled  Whether it worked out and no mode below the shift is missing; not with more
 *                      than CAVUM_THIN_MOST / 3 - 1 modes. Otherwise there are no results.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_modes_improve(bool *settled, const cavum_block_task *tasks, int count,
                                       cavum_error *error);

/**
 * The modes of the lower levels that belong to those of the highest: their Galerkin projections,
 * which differ from the modes of these levels far less than from those of the highest. Where a
 * level is too low for that they are iterated for; none where it has too few unknowns for them.
 *
 * @param[in,out] modes   Shape [pencil->num_levels]: the first one is given, the others empty.
 * @param[in]     pencil  Factorised.
 * @param[in]     accuracy  Relative error of the vectors where they are iterated for.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_modes_project(cavum_modes *modes, cavum_pencil *pencil, double accuracy,
                                       cavum_error *error);

#endif
