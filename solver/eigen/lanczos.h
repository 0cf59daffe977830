// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/lanczos.h
 * Shift-invert Lanczos; its implementation is the only file that sees ARPACK.
 */
#ifndef CAVUM_EIGEN_LANCZOS_H
#define CAVUM_EIGEN_LANCZOS_H

#include <stdint.h>

#include "cavum/status.h"

/** What the iteration works on: y = (K - shift M)^-1 b and y = M x, shapes [size]. */
typedef struct cavum_lanczos_problem {
  int64_t size;
  int64_t dimension; /**< Of the space that is left to vectors: what the closure or places of no
                          function hold at zero does not count. */
  void *context;
  cavum_status (*solve)(double *y, const double *b, void *context, cavum_error *error);
  void (*mass)(double *y, const double *x, void *context);
} cavum_lanczos_problem;

/**
 * The `count` eigenpairs of K x = lambda M x nearest to the shift, by rising lambda.
 *
 * Not reentrant: ARPACK keeps state in static variables, so one process runs one at a time.
 * Deterministic: the start vector is given.
 *
 * @param[out] values   Shape [count].
 * @param[out] vectors  M-normalised, shape [count][size].
 * @param[in]  problem  The operators.
 * @param[in]  count    1 <= count < dimension.
 * @param[in]  shift    The shift in the operators.
 * @param[in]  tolerance Relative accuracy of the values of the inverted operator.
 * @param[in]  start    Start vector, shape [size].
 * @retval CAVUM_ERR_LIBRARY  no convergence, or ARPACK cannot be loaded; also what the operators
 * return.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_lanczos_solve(double *values, double *vectors,
                                 const cavum_lanczos_problem *problem, int count, double shift,
                                 double tolerance, const double *start, cavum_error *error);

#endif
