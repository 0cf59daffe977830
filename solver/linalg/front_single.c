// SPDX-License-Identifier: GPL-3.0-or-later
// Dense kernels of the factorisation in single precision, in vectors of sixteen.
#include "linalg/front_single.h"

#include "base/lanes.h"

enum { BLOCK = 64, LANES = CAVUM_FRONT_SINGLES, HALF = CAVUM_LANES };
typedef float real;
typedef float reals __attribute__((vector_size(LANES * sizeof(float)), aligned(64), may_alias));
typedef float half_singles
    __attribute__((vector_size(HALF * sizeof(float)), aligned(32), may_alias));
static const double GROWTH_MOST = 1e3;
#define COLUMN cavum_front_column_single
#define GEMM cblas_sgemm
#include "linalg/front_eliminate.h"

// Entries of L fall off with the distance, to numbers below those that are normal: arithmetic with
// them takes a hundred times as long, and zero is as good. Threads that are started inherit this.
static unsigned int take_tiny_for_zero(void) {
#ifdef __SSE2__
  enum { TINY_INPUT_IS_ZERO = 1 << 6, TINY_RESULT_IS_ZERO = 1 << 15 };
  unsigned int before = __builtin_ia32_stmxcsr();
  __builtin_ia32_ldmxcsr(before | TINY_INPUT_IS_ZERO | TINY_RESULT_IS_ZERO);
  return before;
#else
  return 0;
#endif
}

static void take_tiny_as_before(unsigned int before) {
#ifdef __SSE2__
  __builtin_ia32_ldmxcsr(before);
#else
  (void)before;
#endif
}

cavum_front_pivots cavum_front_single_factorise(const cavum_dense_front *f) {
  cavum_front_pivots pivots = {0, false};
  unsigned int before = take_tiny_for_zero();
  eliminate(f, &pivots);
  take_tiny_as_before(before);
  return pivots;
}

static inline __attribute__((always_inline)) void widen(cavum_lanes *to, const float *from) {
  *to = __builtin_convertvector(*(const half_singles *)from, cavum_lanes);
}

// One or two columns of the forward half; the diagonal holds D, not the ones of L: own unknowns are
// put back after each step.
static inline __attribute__((always_inline)) void forward_step(double *restrict x,
                                                               const float *restrict p0, int ld,
                                                               int c, bool two, const int count) {
  const float *p1 = two ? p0 + ld : p0;
  double own[CAVUM_RHS_MOST], next[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    own[r] = x[r * ld + c];
    next[r] = two ? x[r * ld + c + 1] - (double)p0[c + 1] * own[r] : 0.0;
  }
  for (int i = c / HALF * HALF; i < ld; i += HALF) {
    cavum_lanes first, second;
    widen(&first, p0 + i);
    widen(&second, p1 + i);
    for (int r = 0; r < count; r++) {
      *(cavum_lanes *)(x + r * ld + i) -= own[r] * first + next[r] * second;
    }
  }
  for (int r = 0; r < count; r++) {
    x[r * ld + c] = own[r];
    if (two) x[r * ld + c + 1] = next[r];
  }
}

static inline __attribute__((always_inline)) void forward(double *restrict x,
                                                          const float *restrict panel, int ld,
                                                          int k, const int count) {
  int c = 0;
  for (; c + 1 < k; c += 2) forward_step(x, panel + (size_t)c * (size_t)ld, ld, c, true, count);
  if (c < k) forward_step(x, panel + (size_t)c * (size_t)ld, ld, c, false, count);
  for (c = 0; c < k; c++) {
    double inverse = 1.0 / (double)panel[(size_t)c * ((size_t)ld + 1)];
    for (int r = 0; r < count; r++) x[r * ld + c] *= inverse;
  }
}

static inline double sum_lanes(const cavum_half *low, const cavum_half *high) {
  cavum_half both = *low + *high;
  return (both[0] + both[1]) + (both[2] + both[3]);
}

// Two columns of the backward half, c and the one before it, or one.
static inline __attribute__((always_inline)) void backward_step(double *restrict x,
                                                                const float *restrict p0, int ld,
                                                                int c, bool two, const int count) {
  const float *p1 = two ? p0 - ld : p0;
  double own[CAVUM_RHS_MOST], before[CAVUM_RHS_MOST];
  cavum_half s0[CAVUM_RHS_MOST][2] = {{{0}}}, s1[CAVUM_RHS_MOST][2] = {{{0}}};
  for (int r = 0; r < count; r++) {
    own[r] = x[r * ld + c];
    before[r] = two ? x[r * ld + c - 1] : 0.0;
    x[r * ld + c] = 0.0;  // the diagonal holds D
    if (two) x[r * ld + c - 1] = 0.0;
  }
  for (int i = (two ? c - 1 : c) / HALF * HALF; i < ld; i += HALF) {
    cavum_lanes wide0, wide1;
    widen(&wide0, p0 + i);
    widen(&wide1, p1 + i);
    const cavum_half *first = (const cavum_half *)&wide0, *second = (const cavum_half *)&wide1;
    for (int r = 0; r < count; r++) {
      const cavum_half *value = (const cavum_half *)(x + r * ld + i);
      for (int h = 0; h < 2; h++) {
        s0[r][h] += first[h] * value[h];
        s1[r][h] += second[h] * value[h];
      }
    }
  }
  for (int r = 0; r < count; r++) {
    own[r] -= sum_lanes(&s0[r][0], &s0[r][1]);
    x[r * ld + c] = own[r];
    if (!two) continue;
    x[r * ld + c - 1] = before[r] - sum_lanes(&s1[r][0], &s1[r][1]) - (double)p1[c] * own[r];
  }
}

static inline __attribute__((always_inline)) void backward(double *restrict x,
                                                           const float *restrict panel, int ld,
                                                           int k, const int count) {
  int c = k - 1;
  for (; c > 0; c -= 2) backward_step(x, panel + (size_t)c * (size_t)ld, ld, c, true, count);
  if (c == 0) backward_step(x, panel, ld, c, false, count);
}

CAVUM_FAST void cavum_front_single_forward(double *restrict x, const float *restrict panel,
                                           int leading, int k, int count) {
  CAVUM_FOR_RHS(forward, count, x, panel, leading, k);
}

CAVUM_FAST void cavum_front_single_backward(double *restrict x, const float *restrict panel,
                                            int leading, int k, int count) {
  CAVUM_FOR_RHS(backward, count, x, panel, leading, k);
}
