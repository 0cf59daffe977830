// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/completeness.h
 * The count of modes by inertia that says whether one was missed.
 */
#ifndef CAVUM_SOLVE_COMPLETENESS_H
#define CAVUM_SOLVE_COMPLETENESS_H

#include "solve/ladder_state.h"

/**
 * Keeps the count of modes below the shift of the rough start of a ladder, if that is above them:
 * its matrices are not needed then.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_LIBRARY
 */
cavum_status cavum_completeness_count_start(cavum_ladder *ladder,
                                            const cavum_ladder_request *request,
                                            cavum_error *error);

/**
 * Checks by inertia that no mode was missed.
 *
 * Lowest modes: the number of modes below a bound just above the highest reported one must be the
 * number reported, at a low degree with a wide margin or, should another mode lie in that margin,
 * at the degree of the solution. Modes near a frequency: likewise between a bound just below the
 * lowest and one just above the highest.
 *
 * @param[out] below_hz, above_hz  The checked window; above_hz is 0 for the lowest modes.
 * @param[out] num_close  Of the lowest modes: how many of other classes than the last one lie
 * within a part of 1e-5 of k^2 above it, or below it, and are not reported.
 * @retval CAVUM_ERR_INCOMPLETE  the numbers disagree.
 */
cavum_status cavum_completeness_check(double *below_hz, double *above_hz, int *num_close,
                                      cavum_ladder *ladder, const cavum_ladder_request *request,
                                      cavum_error *error);

#endif
