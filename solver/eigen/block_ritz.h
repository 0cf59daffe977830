// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/block_ritz.h
 * Rayleigh-Ritz in the space of a block.
 */
#ifndef CAVUM_EIGEN_BLOCK_RITZ_H
#define CAVUM_EIGEN_BLOCK_RITZ_H

#include "eigen/mode_block.h"

/**
 * The lowest Ritz pairs of all vectors at hand become the modes.
 * @param[out] lost  The span of the vectors is too small, or so badly known that the pairs break
 * the law of inertia.
 * @param[in]  modes_are_known  The modes are those of the step before: their products are known.
 * @retval CAVUM_ERR_LIBRARY  the small eigenproblem has no solution.
 */
cavum_status cavum_mode_block_take_ritz_pairs(cavum_mode_block *block, bool *lost,
                                              bool modes_are_known, cavum_error *error);

/** No mode below the shift is missing: there is one for every negative pivot. */
bool cavum_mode_block_is_complete(const cavum_mode_block *block);

#endif
