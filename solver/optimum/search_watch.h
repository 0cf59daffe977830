// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/search_watch.h
 * How far a search is, for whoever watches it.
 *
 * All threads of a search note what they solved; only the one that began it tells the watcher. A
 * goal that is not watched has no watch, and these functions do nothing.
 */
#ifndef CAVUM_OPTIMUM_SEARCH_WATCH_H
#define CAVUM_OPTIMUM_SEARCH_WATCH_H

#include <pthread.h>

#include "optimum/point.h"

/** A watch. Zero-initialise. */
typedef struct cavum_search_watch {
  pthread_mutex_t mutex;
  pthread_t teller; /**< The thread that began the search. */
  double begin_s;
  cavum_optimum_watcher *watcher;
  void *watcher_data;
  cavum_optimum_progress now;
} cavum_search_watch;

/** Begins to watch the search of a goal that has a watcher. */
void cavum_search_watch_open(cavum_search_watch *watch, cavum_goal *goal);

/** Ends it; the goal is as before. */
void cavum_search_watch_close(cavum_search_watch *watch, cavum_goal *goal);

/** A stage begins, with so many starts or points to do. */
void cavum_search_watch_stage(const cavum_goal *goal, cavum_optimum_stage stage, int num_wanted);

/** A point of a front begins, from 0, when so many are found: its best shape is another one. */
void cavum_search_watch_point(const cavum_goal *goal, int point, int num_found);

/** A start has ended. */
void cavum_search_watch_start_done(const cavum_goal *goal);

/** A shape was solved: it may be the best one so far. */
void cavum_search_watch_solved(cavum_optimum_solving *solving, const cavum_optimum_point *shape);

/** Tells the watcher again while the thread that began the search waits. */
void cavum_search_watch_waits(const cavum_goal *goal);

#endif
