// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/starts.h
 * Where searches start: the base cell, then points of a Sobol sequence.
 */
#ifndef CAVUM_OPTIMUM_STARTS_H
#define CAVUM_OPTIMUM_STARTS_H

#include "optimum/goal.h"

/** Starts that are handed out one by one. Zero-initialise but for the goal. */
typedef struct cavum_starts {
  cavum_goal *goal; /**< Borrowed. */
  int64_t next;     /**< Point of the sequence. */
} cavum_starts;

/**
 * The next start.
 * @param[out] place  Shape [num_variables].
 * @return false: there are no more.
 */
bool cavum_starts_next(double *place, cavum_starts *starts);

#endif
