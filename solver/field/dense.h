// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file dense.h
 * Static condensation of one symmetric matrix through LAPACK; the only file that sees LAPACK.
 */
#ifndef CAVUM_DENSE_H
#define CAVUM_DENSE_H

#include <stdbool.h>

/** How the interior block of an element was factorised. */
typedef enum cavum_interior_kind {
  CAVUM_INTERIOR_CHOLESKY, /**< L L^T. */
  CAVUM_INTERIOR_LDL       /**< L D L^T with pivoting: the block is indefinite. */
} cavum_interior_kind;

/**
 * Eliminates the last ni of ns + ni unknowns of a symmetric matrix A (column-major, leading
 * dimension ns + ni, lower triangle used; destroyed). On return the leading ns x ns lower triangle
 * of A is the Schur complement.
 *
 * Cholesky: factor = L, coupling = L^-1 A_is. LDL: factor and pivots from Bunch-Kaufman, coupling =
 * A_ii^-1 A_is.
 *
 * @param[out] factor    Shape [ni, ni], column-major.
 * @param[out] pivots    Shape [ni]; used by LDL only.
 * @param[out] coupling  Shape [ni, ns], column-major.
 * @param[out] kind      Cholesky whenever the block is positive definite.
 * @param[out] negative  Number of negative eigenvalues of the interior block.
 * @param[in,out] A      Shape [ns + ni, ns + ni].
 * @param[in]  work      Shape [ni * 64].
 * @return false when the interior block is singular to working precision.
 */
bool cavum_dense_condense(double *factor, int *pivots, double *coupling, cavum_interior_kind *kind,
                          int *negative, double *A, int ns, int ni, double *work);

/**
 * First half of a condensed solve: bi becomes the reduced interior right side, bs loses its share.
 * @param[in,out] bs  Shape [ns].
 * @param[in,out] bi  Shape [ni].
 */
void cavum_dense_reduce(double *bs, double *bi, const double *factor, const int *pivots,
                        const double *coupling, cavum_interior_kind kind, int ns, int ni);

/** Second half: from the skeleton values xs and the reduced bi, bi becomes the interior solution. */
void cavum_dense_expand(double *bi, const double *xs, const double *factor, const double *coupling,
                        cavum_interior_kind kind, int ns, int ni);

#endif
