// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/polish.h
 * The last steps of a search, with better solves.
 */
#ifndef CAVUM_OPTIMUM_POLISH_H
#define CAVUM_OPTIMUM_POLISH_H

#include "optimum/search.h"

/**
 * Goes on from where a search converged, with solves to a tenth of the accuracy that its cells ask
 * for: limits hold to that tenth then, whoever solves the shape. The search becomes the longer one,
 * path and solves included. It stays as it is where it did not converge, has no solves left, or
 * where the better solves lead to nothing that converges.
 * @param[in,out] search  One that ended; its solving has solves of that tenth from here on where
 *                        the search was changed.
 * @retval CAVUM_ERR_STOPPED  the search stays as it was. Else as cavum_search_run().
 */
cavum_status cavum_search_polish(cavum_search *search, cavum_error *error);

#endif
