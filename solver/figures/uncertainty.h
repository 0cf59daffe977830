// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file uncertainty.h
 * The numerical uncertainty of a number from its values at rising degrees.
 */
#ifndef CAVUM_UNCERTAINTY_H
#define CAVUM_UNCERTAINTY_H

/** Most values that an estimate looks back at. */
enum { CAVUM_HISTORY_MOST = 24 };

/** Values of one number at rising degrees, oldest first. */
typedef struct cavum_history {
  int count;
  double value[CAVUM_HISTORY_MOST];
} cavum_history;

/** Adds a value; when full, the oldest is dropped. */
void cavum_history_add(cavum_history *history, double value);

/** How the error of a number falls with the degree. */
typedef enum cavum_convergence {
  CAVUM_CONVERGENCE_STEADY, /**< Integrals and eigenvalues. */
  CAVUM_CONVERGENCE_UNEVEN  /**< Point values at a wall: never trusted to go on falling fast. */
} cavum_convergence;

/**
 * Uncertainty of the last value: what the remaining terms of the sequence can still add.
 *
 * With differences d_n = |q_n - q_{n-1}| and their ratio, the tail of a sequence that goes on falling
 * by x is d_n x / (1 - x). The larger of the last two ratios is believed to half of its decades only:
 * x is its square root, at least 0.2 and at most 0.95 (an algebraic tail at degree 16); uneven
 * sequences: its power 0.4, at least 0.4. And one lucky small difference does not pass for convergence:
 * d_n counts as at least x d_{n-1}. The result is twice the tail, and not less than the rounding floor.
 *
 * @param[in] history         Three values or more give a tail; with two the difference, or infinity
 *                            for a single value, is returned.
 * @param[in] convergence     What the number is like.
 * @param[in] floor_relative  Rounding floor relative to the value.
 */
double cavum_uncertainty_of_last(const cavum_history *history, cavum_convergence convergence,
                                 double floor_relative);

#endif
