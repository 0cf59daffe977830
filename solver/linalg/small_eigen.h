// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/small_eigen.h
 * The symmetric-definite eigenproblem of a few tens of unknowns, on the thread that calls.
 *
 * LAPACK's way [GolubVanLoan2013, 8.3 and 8.7], and its iteration on the tridiagonal matrix. The
 * reduction to that is written out because the products in LAPACK's, however small, are shared
 * among all threads that the BLAS was given: with a busy core that costs more than a whole solve.
 */
#ifndef CAVUM_LINALG_SMALL_EIGEN_H
#define CAVUM_LINALG_SMALL_EIGEN_H

#include "cavum/contour.h"

/** Doubles of work space for a problem of some order. */
static inline int cavum_small_eigen_work(int order) { return order * order + 5 * order; }

/**
 * All solutions of A x = value M x, values ascending.
 *
 * @param[in,out] a      Column-major, order x order, its lower triangle; becomes the vectors, one a
 *                       column, x^T M x = 1.
 * @param[in,out] m      Likewise, positive definite; overwritten.
 * @param[out]    value  Shape [order].
 * @param[out]    work   Shape [cavum_small_eigen_work(order)].
 * @return False when M is not positive definite or the iteration does not end.
 */
bool cavum_small_eigen(double *restrict a, double *restrict m, double *restrict value, int order,
                       double *restrict work);

#endif
