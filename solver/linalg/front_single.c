// SPDX-License-Identifier: GPL-3.0-or-later
// Dense kernels in single precision; those of front.c, in vectors of sixteen.
#include "linalg/front_single.h"

#include <math.h>
#include <stddef.h>

#include "base/fast.h"
#include "base/lanes.h"
#include "base/stop.h"
#include "base/threads.h"
#include "linalg/blas_calls.h"

enum { PANEL = 8, BLOCK = 64, LARGE = 256, LANES = CAVUM_FRONT_SINGLES, HALF = CAVUM_LANES };
// Rows of an update that threads share: fewer take less time than starting them.
enum { SHARED = 512 };
// Growth of a diagonal entry by this factor costs as many digits.
static const double GROWTH_MOST = 1e3;

typedef float singles __attribute__((vector_size(LANES * sizeof(float)), aligned(64), may_alias));
typedef float half_singles
    __attribute__((vector_size(HALF * sizeof(float)), aligned(32), may_alias));

// x -= p F and y -= p G for `width` columns of p, in whole vectors from `start` to ld. With `two`
// false y is left alone.
static inline __attribute__((always_inline)) void subtract(float *restrict x, float *restrict y,
                                                           const float *restrict p, const float *f,
                                                           const float *g, int start, int ld,
                                                           int width, bool two) {
  for (int i = start; i < ld; i += LANES) {
    singles sx = *(singles *)(x + i), sy = {0};
    if (two) sy = *(singles *)(y + i);
    for (int b = 0; b < width; b++) {
      singles column = *(const singles *)(p + (size_t)b * (size_t)ld + i);
      sx -= f[b] * column;
      if (two) sy -= g[b] * column;
    }
    *(singles *)(x + i) = sx;
    if (two) *(singles *)(y + i) = sy;
  }
}

// subtract() for 1 to 8 columns, a kernel for each number; y may be NULL.
CAVUM_FAST static void subtract_columns(float *restrict x, float *restrict y,
                                        const float *restrict p, const float *f, const float *g,
                                        int start, int ld, int width) {
  switch (width) {
#define WIDTH_CASE(w)                                     \
  case w:                                                 \
    if (y) {                                              \
      subtract(x, y, p, f, g, start, ld, w, true);        \
    } else {                                              \
      subtract(x, NULL, p, f, NULL, start, ld, w, false); \
    }                                                     \
    return
    WIDTH_CASE(1);
    WIDTH_CASE(2);
    WIDTH_CASE(3);
    WIDTH_CASE(4);
    WIDTH_CASE(5);
    WIDTH_CASE(6);
    WIDTH_CASE(7);
    WIDTH_CASE(8);
#undef WIDTH_CASE
    default:
      return;
  }
}

// Divides column c below its pivot, with zeros above, and gives the largest square before that.
CAVUM_FAST static double divide(float *restrict column, int c, int ld) {
  int start = c / LANES * LANES;
  float pivot = column[c], inverse = 1.0F / pivot;
  double total = 0.0;
  singles sum = {0};
  for (int i = start; i <= c; i++) column[i] = 0.0F;
  for (int i = start; i < ld; i += LANES) {
    singles value = *(singles *)(column + i);
    sum += value * value;
    *(singles *)(column + i) = inverse * value;
  }
  column[c] = pivot;
  for (int l = 0; l < LANES; l++) total += (double)sum[l];
  return total;
}

// The slow, exact look at what the elimination of a divided column does to the diagonal.
static bool grows(const cavum_dense_front *f, int c) {
  const float *column = cavum_front_column_single(f, c);
  for (int i = c + 1; i < f->m; i++) {
    double entry = (double)column[i], taken = fabs(entry * entry * (double)column[c]);
    if (!(taken <= GROWTH_MOST * fabs((double)cavum_front_column_single(f, i)[i]))) return true;
  }
  return false;
}

static double trace(const cavum_dense_front *f) {
  double sum = 0.0;
  for (int i = 0; i < f->m; i++) sum += fabs((double)cavum_front_column_single(f, i)[i]);
  return sum;
}

// Columns j .. j + width of a panel for all rows below, with the columns before already applied.
static void factorise_panel(const cavum_dense_front *f, int j, int width, double scale,
                            cavum_front_pivots *pivots) {
  float factor[PANEL];
  int ld = f->leading;
  for (int c = j; c < j + width; c++) {
    float *column = cavum_front_column_single(f, c);
    for (int b = j; b < c; b++) {
      const float *before = cavum_front_column_single(f, b);
      factor[b - j] = before[c] * before[b];  // L(c,b) D(b)
    }
    subtract_columns(column, NULL, cavum_front_column_single(f, j), factor, NULL, c / LANES * LANES,
                     ld, c - j);
    double pivot = (double)column[c], squares = divide(column, c, ld);
    pivots->num_negative += pivot < 0.0;
    if (!(squares <= pivot * scale) && grows(f, c)) pivots->unsafe = true;
    if (!(fabs(pivot) > 0.0)) pivots->unsafe = true;
  }
}

// Columns from .. end minus their share of the columns j .. j + width.
static void update_rest(const cavum_dense_front *front, int j, int width, int from, int end) {
  int ld = front->leading;
  const float *p = cavum_front_column_single(front, j);
  float f[PANEL], g[PANEL], pivot[PANEL];
  for (int b = 0; b < width; b++) pivot[b] = p[(size_t)b * (size_t)ld + (size_t)(j + b)];
  for (int c = from; c < end; c += 2) {
    bool two = c + 1 < end;
    for (int b = 0; b < width; b++) {
      const float *column = p + (size_t)b * (size_t)ld;
      f[b] = column[c] * pivot[b];
      g[b] = two ? column[c + 1] * pivot[b] : 0.0F;
    }
    subtract_columns(cavum_front_column_single(front, c),
                     two ? cavum_front_column_single(front, c + 1) : NULL, p, f, g,
                     c / LANES * LANES, ld, width);
  }
}

// The update of a large front by the columns j .. j + width, in strips of columns from `from` on:
// those of its own columns, then those of its border.
typedef struct update {
  const cavum_dense_front *front;
  int j, width, from, own_strips;
} update;

static int count_strips(int columns) { return (columns + BLOCK - 1) / BLOCK; }

static void update_strip(const update *u, int strip) {
  const cavum_dense_front *f = u->front;
  float scaled[BLOCK * BLOCK];
  bool own = strip < u->own_strips;
  int c = own ? u->from + strip * BLOCK : f->k + (strip - u->own_strips) * BLOCK;
  int end = own ? f->k : f->m, columns = end - c < BLOCK ? end - c : BLOCK;
  for (int b = 0; b < u->width; b++) {
    const float *p = cavum_front_column_single(f, u->j + b);
    for (int i = 0; i < columns; i++) scaled[b * BLOCK + i] = p[c + i] * p[u->j + b];
  }
  cblas_sgemm(CblasColMajor, CblasNoTrans, CblasTrans, f->m - c, columns, u->width, -1.0F,
              cavum_front_column_single(f, u->j) + c, f->leading, scaled, BLOCK, 1.0F,
              cavum_front_column_single(f, c) + c, cavum_front_step(f, c));
}

static void update_strips(void *context, int64_t first, int64_t end, int worker) {
  (void)worker;
  for (int64_t strip = first; strip < end && !cavum_stop_asked(); strip++) {
    update_strip(context, (int)strip);
  }
}

static void update_large(const cavum_dense_front *f, int j, int width, int from) {
  update u = {f, j, width, from, count_strips(f->k - from)};
  cavum_threads_run(update_strips, &u, u.own_strips + count_strips(f->m - f->k), 1,
                    f->m - from >= SHARED ? cavum_threads_count() : 1);
}

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

static void eliminate(const cavum_dense_front *f, cavum_front_pivots *pivots) {
  int m = f->m, k = f->k, strip = m > LARGE ? BLOCK : k;
  double scale = trace(f);
  for (int block = 0; block < k; block += strip) {
    int end = block + strip < k ? block + strip : k, last = m > LARGE ? end : m;
    for (int j = block; j < end; j += PANEL) {
      int width = end - j < PANEL ? end - j : PANEL;
      factorise_panel(f, j, width, scale, pivots);
      update_rest(f, j, width, j + width, last);
    }
    if (m > LARGE && cavum_stop_asked()) break;  // who called finds out by asking too
    if (m > LARGE) update_large(f, block, end - block, end);
  }
  for (int c = LANES; c < k; c++) {  // the vector of the pivot has its zeros already
    for (int i = 0; i < c / LANES * LANES; i++) cavum_front_column_single(f, c)[i] = 0.0F;
  }
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
