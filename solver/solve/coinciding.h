// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/coinciding.h
 * Modes that cannot be told from each other by their frequencies.
 */
#ifndef CAVUM_SOLVE_COINCIDING_H
#define CAVUM_SOLVE_COINCIDING_H

#include "solve/problem.h"

/**
 * Adds a warning for each group of modes of one symmetry class whose frequencies coincide within
 * their uncertainties: any mixture of their fields solves the problem as well, so figures of the
 * fields are those of some mixture. A mode behind the last one is named too, where it is known.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coinciding_warn(cavum_problem *problem, cavum_error *error);

#endif
