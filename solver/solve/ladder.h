// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/ladder.h
 * Rising degrees on one mesh until every figure is known well enough.
 */
#ifndef CAVUM_SOLVE_LADDER_H
#define CAVUM_SOLVE_LADDER_H

#include "solve/ladder_state.h"

/**
 * Climbs on the mesh of the memory. On success the figures of ladder->solution->modes carry their
 * uncertainties.
 * @param[out] ladder  Overwritten; release with cavum_ladder_clear() also after an error.
 */
cavum_status cavum_ladder_climb(cavum_ladder *ladder, cavum_problem_memory *memory,
                                const cavum_ladder_request *request, cavum_timings *timings,
                                cavum_error *error);

#endif
