// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/result.h
 * Results with fewer modes than were found.
 */
#ifndef CAVUM_SOLVE_RESULT_H
#define CAVUM_SOLVE_RESULT_H

#include "cavum/solve.h"

/**
 * Keeps the lowest modes, up to a number; nothing is said any more about what is above them. The
 * accuracy is reached where that of all that are kept is.
 */
void cavum_result_keep_lowest(cavum_result *result, int count);

#endif
