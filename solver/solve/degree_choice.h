// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/degree_choice.h
 * The degree that a solve begins with: the usual one, or what the cells before needed.
 */
#ifndef CAVUM_SOLVE_DEGREE_CHOICE_H
#define CAVUM_SOLVE_DEGREE_CHOICE_H

#include "solve/ladder_state.h"

/** True when the cell before is a neighbour that reached what is asked of this one too. */
bool cavum_degree_has_experience(const cavum_cell *cell, const cavum_problem_memory *memory);

/**
 * First degree on the mesh of the memory.
 * @param[in] is_refined  The elements are smaller than the mesher would have made them.
 */
int cavum_degree_choose_first(const cavum_cell *cell, const cavum_problem_memory *memory,
                              bool is_refined);

/**
 * Remembers what the next cell should know: the degree that was enough, or one less where that
 * promises to be enough.
 * @param[in] is_given  The degree was chosen by the user: nothing is learned from it.
 */
void cavum_degree_remember(cavum_problem_memory *memory, const cavum_ladder *ladder,
                           const cavum_cell *cell, bool is_given);

#endif
