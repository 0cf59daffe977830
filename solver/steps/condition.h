// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/condition.h
 * Independent normal numbers, conditioned on measured linear combinations of them.
 */
#ifndef CAVUM_STEPS_CONDITION_H
#define CAVUM_STEPS_CONDITION_H

#include <stdbool.h>

/** Numbers with their mean and covariance; what it points to is owned by the caller. */
typedef struct cavum_condition {
  int count;
  double *mean;       /**< Shape [count]. */
  double *covariance; /**< Shape [count, count]. */
  double *work;       /**< Shape [count]. */
} cavum_condition;

/** Mean 0, variance 1, independent. */
void cavum_condition_start(cavum_condition *condition);

/**
 * Takes in a measurement of row . numbers.
 * @param[in,out] condition  Unchanged where neither side is uncertain.
 * @param[in]     row        Shape [count].
 * @param[in]     value      What was measured.
 * @param[in]     variance   Of the measurement, 0 or more.
 */
void cavum_condition_measure(cavum_condition *condition, const double *row, double value,
                             double variance);

/** Mean of row . numbers. */
double cavum_condition_mean(const cavum_condition *condition, const double *row);

/** Variance of row . numbers, never below 0. */
double cavum_condition_variance(const cavum_condition *condition, const double *row);

#endif
