// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file front.h
 * Dense kernels of the factorisation: partial L D L^T of a front and the two halves of its solve.
 *
 * Storage is column-major, lower triangle, leading dimension m. No pivoting: the matrices are
 * K - shift M with a shift away from eigenvalues, positive definite but for a few directions. A
 * pivot whose elimination makes other diagonal entries grow, which a definite matrix cannot do, is
 * reported, and the caller moves the shift.
 */
#ifndef CAVUM_FRONT_H
#define CAVUM_FRONT_H

#include <stdbool.h>

/** What a partial factorisation found. */
typedef struct cavum_front_pivots {
  int num_negative; /**< Negative pivots. */
  bool unsafe;      /**< Elimination made entries grow too much to be trusted. */
} cavum_front_pivots;

/**
 * Eliminates the first k of m unknowns: A = L D L^T in the first k columns (unit L below the
 * diagonal, D on it), and the Schur complement in the lower triangle of the last m - k.
 * @param[in,out] a  Shape [m, m], column-major, lower triangle.
 */
cavum_front_pivots cavum_front_factorise(double *restrict a, int m, int k);

/**
 * Forward half: own = L11^-1 own, border -= L21 own, own = D^-1 own.
 * @param[in,out] own     Shape [k].
 * @param[in,out] border  Shape [m - k].
 * @param[in]     panel   First k columns of a factorised front, leading dimension m.
 */
void cavum_front_forward(double *restrict own, double *restrict border,
                         const double *restrict panel, int m, int k);

/** Backward half: own = L11^-T (own - L21^T border). */
void cavum_front_backward(double *restrict own, const double *restrict border,
                          const double *restrict panel, int m, int k);

#endif
