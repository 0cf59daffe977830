// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file block_modes.h
 * Several modes from good guesses.
 */
#ifndef CAVUM_BLOCK_MODES_H
#define CAVUM_BLOCK_MODES_H

#include "modes.h"

/**
 * Improves guesses of modes of one closure, at all levels of a factorised pencil.
 *
 * @param[out] modes     Shape [pencil->num_levels], filled only when settled, with as many modes as
 *                       the guess; of lower levels that are too small for the block, none.
 * @param[out] settled   Whether it worked out; not with more than CAVUM_THIN_MOST / 3 modes.
 * @param[in]  pencil    Factorised at any shift; the closer to a mode, the faster that one settles.
 * @param[in]  guess     Modes of a lower degree, embedded, or of a neighbouring shape. Some more
 *                       than are wanted speed up the last ones.
 * @param[in]  wanted    Modes to be accurate, at most as many as the guess has; those beyond are
 *                       only better than the guess.
 * @param[in]  all_below  The guess has every mode below its highest; otherwise the steps are plain
 *                        ones.
 * @param[in]  accuracy  Relative error of the vectors that is small enough, times their factors.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                       const cavum_modes *guess, int wanted, bool all_below,
                                       double accuracy, cavum_error *error);

#endif
