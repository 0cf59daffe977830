// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/many_starts.h
 * Searches from all starts of a goal, taken one after the other by whichever thread is free.
 */
#ifndef CAVUM_OPTIMUM_MANY_STARTS_H
#define CAVUM_OPTIMUM_MANY_STARTS_H

#include "optimum/parts.h"
#include "optimum/search.h"

/** A search that a start led to. */
typedef struct cavum_started {
  double place[CAVUM_GOAL_MOST_VARIABLES];   /**< Where it started. */
  cavum_search search;                       /**< Owned; solving is that of the caller. */
  double factor[CAVUM_GOAL_MOST_QUANTITIES]; /**< Of peaks, as that search left them. */
} cavum_started;

/** What came of the starts. Zero-initialise. */
typedef struct cavum_many_starts {
  int num_started;
  cavum_started *started; /**< Owned: in the order of the sequence, whoever took them. */
  int num_solves;
  cavum_error last; /**< Why the last start that is no shape is none. */
} cavum_many_starts;

/**
 * Runs the first starts of the sequence that are shapes, as many as the goal wants. What comes out
 * does not depend on the number of threads.
 * @param[out]    many     Release with cavum_many_starts_clear(), also after a failure.
 * @param[in,out] goal     Threads beside the calling one have copies of it.
 * @param[in,out] solving  Of the calling thread.
 * @param[in]     options  Of the solves, for the other threads: only the calling one asks
 *                         options->stop and tells the watcher.
 * @retval CAVUM_ERR_STOPPED  options->stop said so: `many` has what ended, and what the others had
 *                            come to. Else as cavum_search_run().
 */
cavum_status cavum_many_starts_run(cavum_many_starts *many, cavum_goal *goal,
                                   cavum_optimum_solving *solving,
                                   const cavum_solve_options *options, cavum_error *error);

/**
 * Runs the starts of one part, each of which is kept as soon as its search has ended: the first
 * points of the sequence that are shapes are dealt to the parts in turn, as far as a contour tells
 * what is a shape. What is there already, of this division or another, is not run again.
 */
cavum_status cavum_many_starts_run_part(const cavum_parts *parts, cavum_goal *goal,
                                        cavum_optimum_solving *solving,
                                        const cavum_solve_options *options, cavum_error *error);

/**
 * Like cavum_many_starts_run(), with the searches that parts have kept. Starts that are run here
 * are those alone that stand in for dealt ones which turned out to be no shapes.
 * @retval CAVUM_ERR_NOT_CONVERGED  dealt starts are missing: nothing is run.
 */
cavum_status cavum_many_starts_gather(cavum_many_starts *many, const cavum_parts *parts,
                                      cavum_goal *goal, cavum_optimum_solving *solving,
                                      const cavum_solve_options *options, cavum_error *error);

/** Frees what it owns. */
void cavum_many_starts_clear(cavum_many_starts *many);

#endif
