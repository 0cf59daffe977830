// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/front.h
 * Dense kernels of the factorisation: partial L D L^T of a front and the two halves of its solve.
 *
 * Storage is column-major, lower triangle, with a leading dimension of whole vectors
 * (cavum_front_leading()) and zeros in the rows that this adds; the memory is aligned to 64 bytes.
 * Kernels run in whole vectors: what lies above the diagonal is overwritten with anything.
 *
 * No pivoting: the matrices are K - shift M with a shift away from eigenvalues, positive definite
 * but for a few directions. A pivot whose elimination makes other diagonal entries grow, which a
 * definite matrix cannot do, is reported, and the caller moves the shift.
 */
#ifndef CAVUM_LINALG_FRONT_H
#define CAVUM_LINALG_FRONT_H

#include <stdbool.h>

/** Leading dimension of a front of m unknowns. */
static inline int cavum_front_leading(int m) { return (m + 7) / 8 * 8; }

/** What a partial factorisation found. */
typedef struct cavum_front_pivots {
  int num_negative; /**< Negative pivots. */
  bool unsafe;      /**< Elimination made entries grow too much to be trusted. */
} cavum_front_pivots;

/**
 * Eliminates the first k of m unknowns: A = L D L^T in the first k columns (unit L below the
 * diagonal, D on it, zeros above), and the Schur complement in the lower triangle of the last
 * m - k.
 * @param[in,out] a  Shape [m, leading].
 */
cavum_front_pivots cavum_front_factorise(double *restrict a, int m, int k);

/** Right-hand sides that are solved for together, at most: the factors are read once for all. */
enum { CAVUM_RHS_MOST = 6 };

/** Calls an inlined kernel with the arguments and, at the end, its number of right-hand sides as a
 * constant, so that it is compiled for each. */
#define CAVUM_FOR_RHS(kernel, count, ...) \
  do {                                    \
    switch (count) {                      \
      case 1:                             \
        kernel(__VA_ARGS__, 1);           \
        break;                            \
      case 2:                             \
        kernel(__VA_ARGS__, 2);           \
        break;                            \
      case 3:                             \
        kernel(__VA_ARGS__, 3);           \
        break;                            \
      case 4:                             \
        kernel(__VA_ARGS__, 4);           \
        break;                            \
      case 5:                             \
        kernel(__VA_ARGS__, 5);           \
        break;                            \
      default:                            \
        kernel(__VA_ARGS__, 6);           \
    }                                     \
  } while (0)

/**
 * Forward half of a solve: x1 = D^-1 L11^-1 x1, x2 = x2 - L21 L11^-1 x1.
 * @param[in,out] x      Shape [count][leading]: the k own unknowns, the m - k of the border, zeros.
 * @param[in]     panel  First k columns of a factorised front.
 * @param[in]     count  1 to CAVUM_RHS_MOST.
 */
void cavum_front_forward(double *restrict x, const double *restrict panel, int m, int k, int count);

/** Backward half: x1 = L11^-T (x1 - L21^T x2); x2 is left. */
void cavum_front_backward(double *restrict x, const double *restrict panel, int m, int k,
                          int count);

#endif
