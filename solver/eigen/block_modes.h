// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/block_modes.h
 * Several modes at once from good guesses, of the classes that share one factorisation.
 */
#ifndef CAVUM_EIGEN_BLOCK_MODES_H
#define CAVUM_EIGEN_BLOCK_MODES_H

#include "eigen/mode_block.h"

/**
 * Improves guesses at one level.
 *
 * @param[out] settled  Whether it worked out and no mode below the shift is missing; not with more
 *                      than CAVUM_TALL_SKINNY_MOST / 3 - 1 modes. Then task.modes[level] has as
 * many modes as the guess.
 * @param[out] mx       NULL, or shape [count]: M x of the modes that are wanted and of their
 *                      neighbours (cavum_block_with_neighbours()), to be freed also after an
 *                      error; NULL where there is none.
 * @param[in]  tasks    Shape [count].
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_modes_improve(bool *settled, double **mx, const cavum_block_task *tasks,
                                       int count, int level, cavum_error *error);

#endif
