// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file step_rate.h
 * What a step of inverse iteration leaves of the error of a vector.
 */
#ifndef CAVUM_STEP_RATE_H
#define CAVUM_STEP_RATE_H

#include "base.h"

/** The part left by a step at most; and at least, whatever the steps before look like. */
#define CAVUM_STEP_RATE_MOST 0.1
#define CAVUM_STEP_RATE_LEAST 1e-3
/** How much worse than the step before a step may be. */
#define CAVUM_STEP_RATE_MARGIN 3.0
/** Relative change of k^2 that is rounding, and the rounding itself. */
#define CAVUM_STEP_ROUNDING_CHANGE 1e-14
#define CAVUM_STEP_ROUNDING 1e-16
/** Error of vectors at a degree in the middle over that at the highest: its values only tell how
 * fast those of the highest settle, and what it lacks the step above still finds. */
#define CAVUM_ACCURACY_BETWEEN 10.0
/** Least k^2, over the shift, of what a function of the highest degree has and one of the degree
 * below has not: several half waves in the largest element against one or two. */
#define CAVUM_STEP_DIRECTIONS_ABOVE 10.0

/**
 * The part of the error that the first step leaves of a vector of the degree below: directions of
 * eigenvalue L are damped by (k^2 - shift) / (L - shift).
 */
static inline double cavum_step_rate_from_below(double k2_less_shift, double shift) {
  double rate = fabs(k2_less_shift) / ((CAVUM_STEP_DIRECTIONS_ABOVE - 1.0) * fabs(shift));
  return cavum_min(CAVUM_STEP_RATE_MOST, cavum_max(CAVUM_STEP_RATE_LEAST, rate));
}

/**
 * The part of a vector's error that the step just made has left. The square of the error before it
 * is about the relative change of k^2.
 * @param[in] change         Of k^2 in this step, relative.
 * @param[in] change_before  In the step before; 1 or more: there was none.
 * @param[in] rate_first     Taken then.
 */
static inline double cavum_step_rate(double change, double change_before, double rate_first) {
  if (change_before >= 1.0) return rate_first;
  double seen = CAVUM_STEP_RATE_MARGIN * sqrt(change / change_before);
  return cavum_min(CAVUM_STEP_RATE_MOST, cavum_max(seen, CAVUM_STEP_RATE_LEAST));
}

#endif
