// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/trace_uncertainty.h
 * How uncertain the fields along the axis and the wall are.
 */
#ifndef CAVUM_SOLVE_TRACE_UNCERTAINTY_H
#define CAVUM_SOLVE_TRACE_UNCERTAINTY_H

#include "solve/problem.h"

/**
 * Fills the uncertainties of a mode's axis and wall, from what the fields along each edge of the
 * mesh were at the degrees of the last solutions: the largest change on the edge and how it falls
 * give the rest that higher degrees would add; not below that of the two edges on either side where
 * both sides have more. Infinite where there is one degree alone, and at
 * the points of sharp re-entrant corners, where E has no limit.
 * @param[in,out] mode  Its profiles are filled.
 * @param[in]     m     Its number in the last solution of the problem's ladder.
 */
cavum_status cavum_trace_uncertainty_fill(cavum_mode_result *mode, const cavum_problem *problem,
                                          int m, cavum_error *error);

#endif
