// SPDX-License-Identifier: GPL-3.0-or-later
// Dense kernels of the factorisation in double precision.
#include "linalg/front.h"

#include "base/lanes.h"

typedef double real;
typedef cavum_lanes reals;
enum { BLOCK = 48, LANES = CAVUM_LANES };
static const double GROWTH_MOST = 1e7;
#define COLUMN cavum_front_column
#define GEMM cblas_dgemm
#include "linalg/front_eliminate.h"

cavum_front_pivots cavum_front_factorise(const cavum_dense_front *f) {
  cavum_front_pivots pivots = {0, false};
  eliminate(f, &pivots);
  return pivots;
}

// One, two or four columns of the forward half, two at a time; the diagonal holds D, not the ones
// of L: own unknowns are put back after each step.
static inline __attribute__((always_inline)) void forward_step(double *restrict x,
                                                               const double *restrict panel, int ld,
                                                               int c, const int width,
                                                               const int count) {
  const double *p0 = panel + (size_t)c * (size_t)ld, *p1 = width > 1 ? p0 + ld : p0;
  const double *p2 = width > 2 ? p1 + ld : p0, *p3 = width > 3 ? p2 + ld : p0;
  double own[4][CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    for (int k = 0; k < width; k++) {
      double value = x[r * ld + c + k];
      if (k > 1) value -= own[0][r] * p0[c + k] + own[1][r] * p1[c + k];
      if (k % 2) value -= (k == 1 ? p0 : p2)[c + k] * own[k - 1][r];
      own[k][r] = value;
    }
  }
  for (int i = c / LANES * LANES; i < ld; i += LANES) {
    for (int r = 0; r < count; r++) {
      cavum_lanes *to = (cavum_lanes *)(x + r * ld + i), rest = *to;
      cavum_lanes sum = own[0][r] * *(const cavum_lanes *)(p0 + i);
      if (width > 1) sum += own[1][r] * *(const cavum_lanes *)(p1 + i);
      rest -= sum;
      if (width > 2) {
        rest -=
            own[2][r] * *(const cavum_lanes *)(p2 + i) + own[3][r] * *(const cavum_lanes *)(p3 + i);
      }
      *to = rest;
    }
  }
  for (int r = 0; r < count; r++) {
    for (int k = 0; k < width; k++) x[r * ld + c + k] = own[k][r];
  }
}

static inline __attribute__((always_inline)) void forward(double *restrict x,
                                                          const double *restrict panel, int ld,
                                                          int k, const int count) {
  int c = 0;
  for (; c + 3 < k; c += 4) forward_step(x, panel, ld, c, 4, count);
  for (; c + 1 < k; c += 2) forward_step(x, panel, ld, c, 2, count);
  if (c < k) forward_step(x, panel, ld, c, 1, count);
  for (c = 0; c < k; c++) {
    double inverse = 1.0 / panel[(size_t)c * ((size_t)ld + 1)];
    for (int r = 0; r < count; r++) x[r * ld + c] *= inverse;
  }
}

static inline double sum_lanes(const cavum_sum *v) {
  cavum_half both = v->low + v->high;
  return (both[0] + both[1]) + (both[2] + both[3]);
}

// Sums of the products of two columns with the rows of all right-hand sides from `start` on.
static inline __attribute__((always_inline)) void multiply_rows(double *sums, double *others,
                                                                const double *restrict x,
                                                                const double *p0, const double *p1,
                                                                int start, int ld,
                                                                const int count) {
  cavum_sum sum[CAVUM_RHS_MOST], other[CAVUM_RHS_MOST];
  for (int h = 0; h < 2; h++) {
    cavum_half s0[CAVUM_RHS_MOST] = {{0}}, s1[CAVUM_RHS_MOST] = {{0}};
    for (int i = start + h * LANES / 2; i < ld; i += LANES) {
      cavum_half first = *(const cavum_half *)(p0 + i), second = *(const cavum_half *)(p1 + i);
      for (int r = 0; r < count; r++) {
        cavum_half value = *(const cavum_half *)(x + r * ld + i);
        s0[r] += first * value;
        s1[r] += second * value;
      }
    }
    for (int r = 0; r < count; r++) {
      *(h == 0 ? &sum[r].low : &sum[r].high) = s0[r];
      *(h == 0 ? &other[r].low : &other[r].high) = s1[r];
    }
  }
  for (int r = 0; r < count; r++) {
    sums[r] = sum_lanes(&sum[r]);
    others[r] = sum_lanes(&other[r]);
  }
}

static inline __attribute__((always_inline)) void sum_both(double *sum, double *other,
                                                           const cavum_lanes *first,
                                                           const cavum_lanes *second) {
  const cavum_half *f = (const cavum_half *)first, *s = (const cavum_half *)second;
  cavum_half a = f[0] + f[1], b = s[0] + s[1];
  cavum_half both =
      __builtin_shufflevector(a, b, 0, 4, 2, 6) + __builtin_shufflevector(a, b, 1, 5, 3, 7);
  *sum = both[0] + both[2];
  *other = both[1] + both[3];
}

// The same by whole lanes. The rows from `start` on come last: numbers that were just stored one by
// one are slow to be loaded together.
static inline __attribute__((always_inline)) void multiply_rows_wide(double *sums, double *others,
                                                                     const double *restrict x,
                                                                     const double *p0,
                                                                     const double *p1, int start,
                                                                     int ld, const int count) {
  cavum_lanes s0[CAVUM_RHS_MOST], s1[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) s0[r] = s1[r] = (cavum_lanes){0};
  for (int i = ld - LANES; i >= start; i -= LANES) {
    cavum_lanes first = *(const cavum_lanes *)(p0 + i), second = *(const cavum_lanes *)(p1 + i);
    for (int r = 0; r < count; r++) {
      cavum_lanes value = *(const cavum_lanes *)(x + r * ld + i);
      s0[r] += first * value;
      s1[r] += second * value;
    }
  }
  for (int r = 0; r < count; r++) sum_both(&sums[r], &others[r], &s0[r], &s1[r]);
}

// Two columns of the backward half, c and the one before it, or one.
static inline __attribute__((always_inline)) void backward_step(double *restrict x,
                                                                const double *restrict p0, int ld,
                                                                int c, bool two, const bool wide,
                                                                const int count) {
  const double *p1 = two ? p0 - ld : p0;
  int start = (two ? c - 1 : c) / LANES * LANES;
  double own[CAVUM_RHS_MOST], before[CAVUM_RHS_MOST], sums[CAVUM_RHS_MOST], others[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    own[r] = x[r * ld + c];
    before[r] = two ? x[r * ld + c - 1] : 0.0;
    x[r * ld + c] = 0.0;  // the diagonal holds D
    if (two) x[r * ld + c - 1] = 0.0;
  }
  if (wide) {
    multiply_rows_wide(sums, others, x, p0, p1, start, ld, count);
  } else {
    multiply_rows(sums, others, x, p0, p1, start, ld, count);
  }
  for (int r = 0; r < count; r++) {
    own[r] -= sums[r];
    x[r * ld + c] = own[r];
    if (two) x[r * ld + c - 1] = before[r] - others[r] - p1[c] * own[r];
  }
}

static inline __attribute__((always_inline)) void backward(double *restrict x,
                                                           const double *restrict panel, int ld,
                                                           int k, const bool wide,
                                                           const int count) {
  int c = k - 1;
  for (; c > 0; c -= 2) backward_step(x, panel + (size_t)c * (size_t)ld, ld, c, true, wide, count);
  if (c == 0) backward_step(x, panel, ld, c, false, wide, count);
}

CAVUM_FAST void cavum_front_forward(double *restrict x, const double *restrict panel, int leading,
                                    int k, int count) {
  CAVUM_FOR_RHS(forward, count, x, panel, leading, k);
}

CAVUM_FAST static void backward_of_count(double *restrict x, const double *restrict panel,
                                         int leading, int k, int count) {
  CAVUM_FOR_RHS(backward, count, x, panel, leading, k, false);
}

CAVUM_WIDE static void backward_of_count_wide(double *restrict x, const double *restrict panel,
                                              int leading, int k, int count) {
  CAVUM_FOR_RHS(backward, count, x, panel, leading, k, true);
}

void cavum_front_backward(double *restrict x, const double *restrict panel, int leading, int k,
                          int count) {
  if (cavum_is_wide()) {
    backward_of_count_wide(x, panel, leading, k, count);
  } else {
    backward_of_count(x, panel, leading, k, count);
  }
}
