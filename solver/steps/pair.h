// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/pair.h
 * Halves between plates as a chain runs: their frequencies, and how these change with each step.
 */
#ifndef CAVUM_STEPS_PAIR_H
#define CAVUM_STEPS_PAIR_H

#include "cavum/solver.h"
#include "steps/half.h"

/** Both modes of a pair. Zero-initialise: none is asked for. */
typedef struct cavum_pair {
  cavum_half_side side;                        /**< NONE: nothing is done. */
  cavum_solver *solvers[CAVUM_NUM_PAIR_MODES]; /**< Owned. */
  cavum_result *solved[CAVUM_NUM_PAIR_MODES];  /**< Owned: of the shape that was solved last. */
  double tried_hz[CAVUM_NUM_PAIR_MODES][2];    /**< Of cavum_pair_try(). */
} cavum_pair;

/** Makes the solvers; with side NONE nothing. */
cavum_status cavum_pair_start(cavum_pair *pair, cavum_half_side side,
                              const cavum_solve_options *options, cavum_error *error);

/** Frees all. */
void cavum_pair_clear(cavum_pair *pair);

/** Solves both modes of the half of a shape; with side NONE nothing. */
cavum_status cavum_pair_solve(cavum_pair *pair, const cavum_cell *shape, cavum_error *error);

/** Frequency of a mode as it was solved last. */
double cavum_pair_hz(const cavum_pair *pair, cavum_pair_mode mode);

/**
 * Tries a cut by slightly less than its amount, for cavum_pair_slope().
 * @param[in] shape   Before the step.
 * @param[in] part_m  How much less, once and twice.
 */
cavum_status cavum_pair_try(cavum_pair *pair, const cavum_cell *shape, const cavum_chain_step *step,
                            double part_m, cavum_error *error);

/**
 * Derivative of a frequency by the amount of a step, behind it, Hz/m.
 * @param[in] shape   Behind the step; it was solved.
 * @param[in] part_m  As tried, for cuts.
 */
double cavum_pair_slope(const cavum_pair *pair, cavum_pair_mode mode, const cavum_cell *shape,
                        const cavum_chain_step *step, double part_m);

/** Part of a frequency that goes with lengths along the axis: d log f / d log z. */
double cavum_pair_part_of_stretch(const cavum_pair *pair, cavum_pair_mode mode);

#endif
