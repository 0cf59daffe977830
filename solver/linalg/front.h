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

/** Numbers of a vector of 64 bytes, in double and in single precision. */
enum { CAVUM_FRONT_DOUBLES = 8, CAVUM_FRONT_SINGLES = 16 };

/** Whole vectors: the least multiple of `lanes` that is not below m. */
static inline int cavum_front_whole(int m, int lanes) { return (m + lanes - 1) / lanes * lanes; }

/**
 * Where a front is: the columns that are eliminated in it in one place and those of its border in
 * another, so that neither has to be moved. The latter leave out whole vectors of rows that lie
 * above all their diagonals.
 */
typedef struct cavum_dense_front {
  int m, k;       /**< Unknowns; those that are eliminated. */
  int leading;    /**< Whole vectors of m. */
  bool is_single; /**< The numbers are of single precision. */
  void *own;      /**< Shape [k, leading]. */
  void *border;   /**< Shape [m - k, border_leading]; so many numbers before it as there are rows
                       left out belong to the same memory. */
  int left_out, border_leading;
} cavum_dense_front;

/** Rows that the columns of a border leave out. */
static inline int cavum_front_left_out(int k, int lanes) { return k / lanes * lanes; }

/** Room for the border of a front: no less than that of any front of fewer unknowns. */
static inline long cavum_front_border_room(int m, int k, int lanes) {
  return (long)(m - k) * (cavum_front_whole(m - k, lanes) + lanes);
}

/** A front of m unknowns, of which k are eliminated, in memory aligned to 64 bytes; `lanes` is
 * what its leading dimensions are multiples of. */
static inline cavum_dense_front cavum_front_in(void *own, void *border, int m, int k, int lanes,
                                               bool is_single) {
  int leading = cavum_front_whole(m, lanes), left_out = cavum_front_left_out(k, lanes);
  return (cavum_dense_front){m, k, leading, is_single, own, border, left_out, leading - left_out};
}

/** Where column c would begin, in numbers from `own` or `border`. */
static inline long cavum_front_offset(const cavum_dense_front *f, int c) {
  return c < f->k ? (long)c * f->leading : (long)(c - f->k) * f->border_leading - f->left_out;
}

/** Column c: its row i is number i from here, from the vector of the diagonal on. */
static inline double *cavum_front_column(const cavum_dense_front *f, int c) {
  return (double *)(c < f->k ? f->own : f->border) + cavum_front_offset(f, c);
}

/** The same of a front in single precision. */
static inline float *cavum_front_column_single(const cavum_dense_front *f, int c) {
  return (float *)(c < f->k ? f->own : f->border) + cavum_front_offset(f, c);
}

/** Distance of column c from the next one of the same part. */
static inline int cavum_front_step(const cavum_dense_front *f, int c) {
  return c < f->k ? f->leading : f->border_leading;
}

/** What a partial factorisation found. */
typedef struct cavum_front_pivots {
  int num_negative; /**< Negative pivots. */
  bool unsafe;      /**< Elimination made entries grow too much to be trusted. */
} cavum_front_pivots;

/**
 * Eliminates the first k of m unknowns: A = L D L^T in the first k columns (unit L below the
 * diagonal, D on it, zeros above), and the Schur complement in the lower triangle of the border.
 */
cavum_front_pivots cavum_front_factorise(const cavum_dense_front *front);

/** Right-hand sides that are solved for together, at most: the factors are read once for all. */
enum { CAVUM_RHS_MOST = 8 };

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
      case 6:                             \
        kernel(__VA_ARGS__, 6);           \
        break;                            \
      case 7:                             \
        kernel(__VA_ARGS__, 7);           \
        break;                            \
      default:                            \
        kernel(__VA_ARGS__, 8);           \
    }                                     \
  } while (0)

/**
 * Forward half of a solve: x1 = D^-1 L11^-1 x1, x2 = x2 - L21 L11^-1 x1.
 * @param[in,out] x      Shape [count][leading]: the k own unknowns, the m - k of the border, zeros.
 * @param[in]     panel  First k columns of a factorised front.
 * @param[in]     count  1 to CAVUM_RHS_MOST.
 */
void cavum_front_forward(double *restrict x, const double *restrict panel, int leading, int k,
                         int count);

/** Backward half: x1 = L11^-T (x1 - L21^T x2); x2 is left. */
void cavum_front_backward(double *restrict x, const double *restrict panel, int leading, int k,
                          int count);

#endif
