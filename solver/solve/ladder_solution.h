// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/ladder_solution.h
 * The next solution of a ladder and what its iteration starts from.
 */
#ifndef CAVUM_SOLVE_LADDER_SOLUTION_H
#define CAVUM_SOLVE_LADDER_SOLUTION_H

#include "solve/ladder_state.h"

/** A solution of the cell before, if its modes can start one of this cell; else NULL. */
const cavum_solution *cavum_ladder_neighbour(const cavum_problem_memory *memory,
                                             const cavum_solution *solution);

/**
 * Computes the next solution, with the modes of the one before as a guess, and makes it the last of
 * the ladder.
 * @param[in]     solution  Where; NULL: there was no memory for it.
 * @param[in,out] input     Boundary, number of degrees and roughness; the rest is filled in.
 */
cavum_status cavum_ladder_solve_next(cavum_ladder *ladder, const cavum_ladder_request *request,
                                     cavum_solution *solution, int degree,
                                     cavum_solution_request *input, cavum_timings *timings,
                                     cavum_error *error);

/**
 * Finds modes roughly at a low degree; several also where those of a neighbour are known, and else
 * at a lower one before. The first real solution then improves them, which is far cheaper than to
 * find them there.
 */
cavum_status cavum_ladder_find_start(cavum_ladder *ladder, const cavum_ladder_request *request,
                                     cavum_timings *timings, cavum_error *error);

#endif
