// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/linear_fit.h
 * Weighted linear least squares in a few terms, with errors that all rows share.
 */
#ifndef CAVUM_COLDTEST_LINEAR_FIT_H
#define CAVUM_COLDTEST_LINEAR_FIT_H

#include "base/base.h"

/** Most terms of a fit. */
enum { CAVUM_MOST_TERMS = 4 };

/** Rows of a fit; all borrowed. */
typedef struct cavum_linear_rows {
  int64_t count;
  int num_terms;             /**< 1 to CAVUM_MOST_TERMS. */
  const double *term;        /**< Of order 1, shape [count, num_terms]. */
  const double *value;       /**< Shape [count]. */
  const double *uncertainty; /**< Of each row alone, shape [count]; where one is 0, all rows are
                                  weighted alike and their scatter says how large it is. */
  int num_shared;            /**< Inputs that the rows share. */
  const double *shared;      /**< Their parts in the values, shape [count, num_shared]. */
} cavum_linear_rows;

/** value = sum over k of coefficient[k] term[k]. */
typedef struct cavum_linear_fit {
  double coefficient[CAVUM_MOST_TERMS];
  double inverse[CAVUM_MOST_TERMS][CAVUM_MOST_TERMS];    /**< (X'WX)^-1. */
  double own[CAVUM_MOST_TERMS][CAVUM_MOST_TERMS];        /**< From the rows' own errors. */
  double covariance[CAVUM_MOST_TERMS][CAVUM_MOST_TERMS]; /**< With those that they share. */
  double chi_squared; /**< NAN where rows have no uncertainty of their own, or none is spare. */
  int degrees_of_freedom;
} cavum_linear_fit;

/**
 * Fits. The shared inputs are not put into the weights; their parts are carried through the fit.
 * @param[out] fit    Untouched unless CAVUM_OK.
 * @param[in]  rows   At least as many as terms.
 * @param[in]  what   Starts messages.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT  fewer rows than terms, or terms that the rows do not tell apart.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_linear_fit_rows(cavum_linear_fit *fit, const cavum_linear_rows *rows,
                                   const char *what, cavum_error *error);

/** What the shared input of that number does to the coefficients of a fit of those rows. */
void cavum_linear_fit_move(double move[CAVUM_MOST_TERMS], const cavum_linear_fit *fit,
                           const cavum_linear_rows *rows, int input);

/** sqrt(g' C g) of a covariance of a fit. */
double cavum_linear_fit_deviation(const cavum_linear_fit *fit, const double g[CAVUM_MOST_TERMS]);

#endif
