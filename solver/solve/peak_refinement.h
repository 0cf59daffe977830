// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/peak_refinement.h
 * The peaks of E of a ladder: on the whole mesh, or refined on a region about them.
 */
#ifndef CAVUM_SOLVE_PEAK_REFINEMENT_H
#define CAVUM_SOLVE_PEAK_REFINEMENT_H

#include "solve/ladder_state.h"

/**
 * Judges the peaks of E of the last solution, which come last: where all other figures are
 * accurate, a region (peak_region.h), or a second one behind it, may spare degrees of the whole
 * mesh. A peak that is accurate without one would be so with one at a degree less.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_peak_refinement_judge(cavum_ladder *ladder, const cavum_cell *cell,
                                         cavum_error *error);

#endif
