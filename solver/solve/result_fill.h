// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/result_fill.h
 * A finished ladder as the result that users see.
 */
#ifndef CAVUM_SOLVE_RESULT_FILL_H
#define CAVUM_SOLVE_RESULT_FILL_H

#include "solve/problem.h"

/**
 * Fills the result from the last solution: modes with their figures, labels and residuals, profiles
 * and fields where they are asked for.
 */
cavum_status cavum_result_fill(cavum_problem *problem, cavum_error *error);

/**
 * Fills how far the two stored energies of each mode differ, where derivatives have not brought
 * that along.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_result_fill_energies(cavum_problem *problem, cavum_error *error);

#endif
