// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/block_modes.h
 * Several modes at once from good guesses, of the classes that share one factorisation.
 */
#ifndef CAVUM_EIGEN_BLOCK_MODES_H
#define CAVUM_EIGEN_BLOCK_MODES_H

#include "eigen/modes.h"

/** Most classes that are improved together. */
enum { CAVUM_BLOCK_TASKS_MOST = 2 };

/** Distance from the shift, over that of the last mode that is wanted, up to which modes behind it
 * belong into the block: by themselves it would leave them too slowly to be noticed. */
#define CAVUM_CLOSE_BEHIND 1.3

/** The modes of one class. */
typedef struct cavum_block_task {
  cavum_pencil *pencil;     /**< Factorised at any shift; the closer to a mode, the faster that one
                                 settles. Those of all tasks share their factors. */
  const cavum_modes *guess; /**< Modes of a lower degree, embedded, or of a neighbouring shape: all
                                 below the highest of them, with those close behind the last that is
                                 wanted. vector_error tells how good they are, 1: not known. */
  int wanted;         /**< Modes to be accurate, at most as many as the guess has; those beyond
                           are only better than the guess. */
  double accuracy;    /**< Relative error of the vectors that is small enough. */
  bool by_factors;    /**< Times the accuracy_factor of each. */
  cavum_modes *modes; /**< Shape [pencil->num_levels], empty: the results go here. */
} cavum_block_task;

/**
 * Improves guesses at one level.
 *
 * @param[out] settled  Whether it worked out and no mode below the shift is missing; not with more
 *                      than CAVUM_TALL_SKINNY_MOST / 3 - 1 modes. Then task.modes[level] has as
 * many modes as the guess.
 * @param[out] mx       NULL, or shape [count]: M x of the modes that are wanted, to be freed also
 *                      after an error; NULL where there is none.
 * @param[in]  tasks    Shape [count].
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_modes_improve(bool *settled, double **mx, const cavum_block_task *tasks,
                                       int count, int level, cavum_error *error);

#endif
