// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/step_rate.h
 * What a step of inverse iteration leaves of the error of a vector.
 */
#ifndef CAVUM_EIGEN_STEP_RATE_H
#define CAVUM_EIGEN_STEP_RATE_H

#include "base/base.h"

/** The part of an error that a step leaves: when nothing was seen yet, and bounds of what is made
 * of what was seen. The least allows for a second mode that is a fifth above the first, whose part
 * in the error may be too small to show before the others are gone. */
#define CAVUM_STEP_RATE_FIRST 0.1
#define CAVUM_STEP_RATE_LEAST 0.05
#define CAVUM_STEP_RATE_MOST 0.5
/** How much worse than the step before a step may be. */
#define CAVUM_STEP_RATE_MARGIN 3.0
/** Relative change of k^2 that is rounding, and the rounding itself. */
#define CAVUM_STEP_ROUNDING_CHANGE 1e-14
#define CAVUM_STEP_ROUNDING 1e-16
/** Vectors are not asked to be better than this, relative. */
#define CAVUM_STEP_ACCURACY_LEAST 1e-10
/** Error of vectors at a degree in the middle over that at the highest: its values only tell how
 * fast those of the highest settle, and what it lacks the step above still finds. */
#define CAVUM_ACCURACY_BETWEEN 10.0
/** Least k^2, over the shift, of what a function of the highest degree has and one of the degree
 * below has not: several half waves in the largest element against one or two. */
#define CAVUM_STEP_DIRECTIONS_ABOVE 10.0
/** How much larger than in the block the error at the degree below may be of a mode that is not in
 * it, and the part of an error that factors in single precision leave, with a margin. */
#define CAVUM_STEP_LACK_MARGIN 100.0
#define CAVUM_STEP_RATE_SINGLE 1e-3

/** How far a vector moved, relative, whose k^2 changed in the last step: about the root of that. */
static inline double cavum_step_moved(double change) {
  return sqrt(cavum_max(change, CAVUM_STEP_ROUNDING));
}

/** By what angle a vector turned in a step, from the square of its cosine in the mass. */
static inline double cavum_step_turned(double cosine2) {
  return sqrt(cavum_max(1.0 - cosine2, CAVUM_STEP_ROUNDING));
}

/**
 * Error that the step just made has left.
 * @param[in] moved         How far the vector moved in this step, relative.
 * @param[in] moved_before  In the step before; 1 or more: there was none.
 */
static inline double cavum_step_error_left(double moved, double moved_before) {
  double rate = CAVUM_STEP_RATE_FIRST;
  if (moved_before < 1.0) {
    double seen = CAVUM_STEP_RATE_MARGIN * moved / moved_before;
    rate = cavum_min(CAVUM_STEP_RATE_MOST, cavum_max(CAVUM_STEP_RATE_LEAST, seen));
  }
  return rate * moved;
}

/** Bound of the error when k^2 has not changed beyond rounding for a number of steps: its root at
 * the first of them, and less by a rate at each; infinite for none. */
static inline double cavum_step_error_still(int steps) {
  if (steps == 0) return HUGE_VAL;
  return sqrt(CAVUM_STEP_ROUNDING_CHANGE) * pow(CAVUM_STEP_RATE_FIRST, steps);
}

/**
 * Error that the first step leaves of a vector of the degree below. It moves by directions of high
 * k^2 = L, which are damped by (k^2 - shift) / (L - shift); what the degree below had left is
 * damped as by any step.
 * @param[in] inherited  Error at the degree below.
 * @param[in] rate_most  What else bounds the part of the first that is left.
 */
static inline double cavum_step_error_from_below(double moved, double k2_less_shift, double shift,
                                                 double inherited, double rate_most) {
  double rate = fabs(k2_less_shift) / ((CAVUM_STEP_DIRECTIONS_ABOVE - 1.0) * fabs(shift));
  return cavum_min(rate_most, rate) * moved + CAVUM_STEP_RATE_FIRST * inherited;
}

/**
 * Error of a mode at one degree, over its k^2: a bound for how much of the error of a vector lies
 * along any other mode, after the damping by one step.
 *
 * The error of a vector is a sum over all modes. Its part along another mode is as large as the
 * error of that other mode along it (both come from one bilinear form), and a step damps it by the
 * k^2 of that other mode. At degrees 1 and 2 the quotient is largest for the lowest modes. From
 * degree 3 on errors grow as k^degree, so it is largest for the modes of so high a k^2 that the
 * degree does not resolve them at all.
 * @param[in] moved  How far the first step moved the vector of the mode, relative in energy: its
 *                   error at that degree.
 */
static inline double cavum_step_lack(double moved, double k2, int degree) {
  return pow(moved, degree > 2 ? 2.0 / degree : 1.0) / k2;
}

/** Bound of the part of an error that is left by the largest cavum_step_lack() of the modes of a
 * block; what was not seen has a margin. */
static inline double cavum_step_rate_by_lack(double lack, double k2_less_shift) {
  double rate = CAVUM_STEP_LACK_MARGIN * lack * fabs(k2_less_shift);
  return cavum_min(CAVUM_STEP_RATE_FIRST, cavum_max(rate, CAVUM_STEP_RATE_SINGLE));
}

#endif
