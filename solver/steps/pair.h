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
  double ends_m[CAVUM_NUM_PAIR_MODES][2];      /**< Planes of that half, left and right. */
  cavum_figure before[CAVUM_NUM_PAIR_MODES];   /**< Frequencies, of cavum_pair_look_at_cut(). */
  double cut_slope[CAVUM_NUM_PAIR_MODES];      /**< Hz/m: before a cut, then behind it. */
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

/** Notes frequencies and slopes before a cut, for cavum_pair_close_cut(). */
void cavum_pair_look_at_cut(cavum_pair *pair, const cavum_chain_step *step);

/**
 * Makes the slopes behind a cut, for cavum_pair_slope(): those of the densities along the wall
 * where they add up to the change, else differences, for which two more shapes are solved.
 * @param[in] before  The shape before the step; that behind it was solved.
 * @param[in] step    A trim or a weld by more than nothing.
 */
cavum_status cavum_pair_close_cut(cavum_pair *pair, const cavum_cell *before,
                                  const cavum_chain_step *step, cavum_error *error);

/**
 * Derivative of a frequency by the amount of a step, behind it, Hz/m.
 * @param[in] shape   Behind the step; it was solved.
 */
double cavum_pair_slope(const cavum_pair *pair, cavum_pair_mode mode, const cavum_cell *shape,
                        const cavum_chain_step *step);

/** Part of a frequency that goes with lengths along the axis: d log f / d log z. */
double cavum_pair_part_of_stretch(const cavum_pair *pair, cavum_pair_mode mode);

#endif
