// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/optimise_progress.h
 * Progress of a search for the best shape: one line on a terminal, a line a minute elsewhere.
 */
#ifndef CAVUM_CLI_OPTIMISE_PROGRESS_H
#define CAVUM_CLI_OPTIMISE_PROGRESS_H

#include "cavum/optimum.h"

/** How progress is told. */
typedef enum cavum_optimise_telling {
  CAVUM_OPTIMISE_TELL_NOTHING,
  CAVUM_OPTIMISE_TELL_TERMINAL, /**< The line of cli/solve_progress.h. */
  CAVUM_OPTIMISE_TELL_LOG       /**< A line a minute on standard error. */
} cavum_optimise_telling;

/** Who tells it. */
typedef struct cavum_optimise_teller {
  cavum_optimise_telling telling;
  bool began;  /**< A shape was solved. */
  double told; /**< Seconds of the search at the last line. */
} cavum_optimise_teller;

/** Begins to tell, as standard error is. */
void cavum_optimise_tell_begin(cavum_optimise_teller *teller, bool quiet);

/** Tells progress when it is time to; a cavum_optimum_watcher with a teller as data. */
void cavum_optimise_tell(const cavum_optimum_progress *progress, void *data);

/** Tells of the very first solve what that does; a cavum_solve_watcher with a teller as data. */
void cavum_optimise_tell_solve(const cavum_solve_progress *progress, void *data);

/** Ends: the line of a terminal goes. */
void cavum_optimise_tell_end(cavum_optimise_teller *teller);

#endif
