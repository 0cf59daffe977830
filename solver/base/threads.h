// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/threads.h
 * Loops whose steps do not depend on one another, on as many threads as a computation may use.
 *
 * How many belongs to the computation that runs in this thread, like the question whether to stop
 * (base/stop.h): it is set where the computation enters the library and taken back where it leaves.
 * Threads are started for each loop, so only loops of much work are worth it; a step gives the same
 * bits whichever thread does it, so results do not depend on the number of threads.
 */
#ifndef CAVUM_BASE_THREADS_H
#define CAVUM_BASE_THREADS_H

#include <stdint.h>

/** Threads of a loop, at most. */
enum { CAVUM_THREADS_MOST = 64 };

/** Sets how many threads loops of this thread may use, 1 to CAVUM_THREADS_MOST; gives the number
 * before, for setting it again at the end. */
int cavum_threads_set(int num_threads);

/** How many they may use; 1 inside of such a loop. */
int cavum_threads_count(void);

/**
 * Steps from .. end of a loop; `worker` counts the threads of the loop from 0, the caller's, so
 * that each can have work space of its own.
 */
typedef void cavum_threads_steps(void *context, int64_t from, int64_t end, int worker);

/**
 * Does all steps, `piece` of them at a time, on up to `workers` threads; returns when all are done.
 * With fewer threads than wanted the others do their work. The caller's asks whether to stop before
 * each of its pieces; then the rest is left, and who called finds out by asking too.
 */
void cavum_threads_run(cavum_threads_steps *steps, void *context, int64_t count, int64_t piece,
                       int workers);

#endif
