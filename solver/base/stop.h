// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/stop.h
 * Whether the caller of a long computation wants it to end.
 *
 * The question belongs to the computation that runs in this thread: it is set where the computation
 * enters the library and taken back where it leaves, so that loops deep inside can ask without a
 * parameter through every function. It is asked at most every CAVUM_STOP_EVERY_S seconds; without a
 * question asking costs nothing to speak of.
 */
#ifndef CAVUM_BASE_STOP_H
#define CAVUM_BASE_STOP_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

/** Seconds between two questions, at least. */
#define CAVUM_STOP_EVERY_S 0.01

/** A question and its answer so far. */
typedef struct cavum_stop {
  bool (*ask)(void *data); /**< NULL: nobody is asked. */
  void *data;
  double next_s; /**< When it is asked next. */
  bool stopped;  /**< The answer was yes: it is not asked again. */
} cavum_stop;

/** Makes a question that of this thread; gives the one before, for setting it again at the end. */
cavum_stop *cavum_stop_set(cavum_stop *stop);

/** True when the computation shall end: for loops that leave early and whose caller checks. */
bool cavum_stop_asked(void);

/**
 * The same in loops of many short steps, numbered from 0: asked every 64 steps, so that small
 * problems are not slowed down at all.
 */
static inline bool cavum_stop_asked_at(int64_t step) {
  return (step & 63) == 63 && cavum_stop_asked();
}

/** CAVUM_ERR_STOPPED when the computation shall end. */
cavum_status cavum_stop_check(cavum_error *error);

#endif
