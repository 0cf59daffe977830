// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_levels.h
 * One mode at the degrees of the last solutions, and what the degrees to come can still add to a
 * field.
 */
#ifndef CAVUM_SOLVE_MODE_LEVELS_H
#define CAVUM_SOLVE_MODE_LEVELS_H

#include "solve/problem.h"

/** Degrees that are compared. */
enum { CAVUM_MODE_LEVELS = 3 };

/** A mode at falling degrees. */
typedef struct cavum_mode_levels {
  cavum_view view[CAVUM_MODE_LEVELS]; /**< view[0] at the last degree. */
  int count;                          /**< How many there are, at least 1. */
  double vector_error;                /**< Relative, of the mode at the last degree. */
  /** What corners leave of the field everywhere, relative to its largest value. */
  double spill;
  double ratio_at_corner; /**< Least ratio of changes of H next to corners where E has no limit. */
} cavum_mode_levels;

/**
 * Finds them.
 * @param[in] m  Number of the mode in the last solution of the problem's ladder.
 */
cavum_mode_levels cavum_mode_levels_find(const cavum_problem *problem, int m);

/**
 * What the degrees to come can still add to a field in one place, from its largest changes there.
 * @param[in] change  Between neighbouring degrees, the last one first, shape [count - 1].
 * @param[in] count   Of cavum_mode_levels; with one degree alone nothing is known: HUGE_VAL.
 */
double cavum_mode_levels_rest(const double *change, int count);

/** The same with a least ratio of a change over the one before, of cavum_mode_levels. */
double cavum_mode_levels_rest_at_corner(const double *change, int count, double ratio_least);

#endif
