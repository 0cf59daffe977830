// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/robust.h
 * From the best shape to the one that is best in the worst case within its tolerances.
 */
#ifndef CAVUM_OPTIMUM_ROBUST_H
#define CAVUM_OPTIMUM_ROBUST_H

#include "optimum/search.h"

/**
 * Searches on from the best shape, with standard deviations by tolerances added to each figure for
 * the worse. They and their derivatives are those of the shape before, until they no longer change.
 * @param[in,out] best    Ended; replaced by the search that came last.
 * @param[in,out] goal    Its margins are left as they were used.
 * @param[out]    robust  What it is against the nominal one.
 * @retval CAVUM_ERR_MEMORY  Else as cavum_spread_make() and cavum_search_run().
 */
cavum_status cavum_robust_search(cavum_search *best, cavum_goal *goal, cavum_optimum_robust *robust,
                                 char broken[CAVUM_OPTIMUM_BROKEN_SIZE],
                                 const cavum_solve_options *options, cavum_error *error);

/**
 * Reads the tolerances of a goal.
 * @param[in] file  Beside the goal; NULL: the section of the base cell.
 * @retval CAVUM_ERR_MEMORY  Else as cavum_tolerances_read_file().
 */
cavum_status cavum_robust_read(cavum_goal *goal, const char *file, cavum_error *error);

#endif
