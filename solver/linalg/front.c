// SPDX-License-Identifier: GPL-3.0-or-later
// Dense kernels of the factorisation. Columns are eliminated up to eight at a time, so that the
// update of the rest reads and writes each entry once for eight pivots; for each number of columns
// the compiler makes a kernel of its own.
#include "linalg/front.h"

#include <math.h>
#include <stddef.h>

#include "base/fast.h"
#include "base/lanes.h"
#include "base/stop.h"
#include "base/threads.h"
#include "linalg/blas_calls.h"

enum { PANEL = 8, BLOCK = 48, LARGE = 256, LANES = CAVUM_LANES };
// Rows of an update that threads share: fewer take less time than starting them.
enum { SHARED = 512 };
// Growth of a diagonal entry by this factor costs as many digits.
static const double GROWTH_MOST = 1e7;

// x -= p F and y -= p G for `width` columns of p; all in whole vectors from `start` to ld. With
// `two` false y is left alone.
static inline __attribute__((always_inline)) void subtract(double *restrict x, double *restrict y,
                                                           const double *restrict p,
                                                           const double *f, const double *g,
                                                           int start, int ld, int width, bool two) {
  for (int i = start; i < ld; i += LANES) {
    cavum_lanes sx = *(cavum_lanes *)(x + i), sy = {0};
    if (two) sy = *(cavum_lanes *)(y + i);
    for (int b = 0; b < width; b++) {
      cavum_lanes column = *(const cavum_lanes *)(p + (size_t)b * (size_t)ld + i);
      sx -= f[b] * column;
      if (two) sy -= g[b] * column;
    }
    *(cavum_lanes *)(x + i) = sx;
    if (two) *(cavum_lanes *)(y + i) = sy;
  }
}

// subtract() for 1 to 8 columns, a kernel for each number; y may be NULL.
CAVUM_FAST static void subtract_columns(double *restrict x, double *restrict y,
                                        const double *restrict p, const double *f, const double *g,
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

// Divides column c below its pivot, with zeros above, and gives the sum of the squares before that.
CAVUM_FAST static double divide(double *restrict column, int c, int ld) {
  int start = c / LANES * LANES;
  double pivot = column[c], inverse = 1.0 / pivot, total = 0.0;
  cavum_lanes sum = {0};
  for (int i = start; i <= c; i++) column[i] = 0.0;
  for (int i = start; i < ld; i += LANES) {
    cavum_lanes value = *(cavum_lanes *)(column + i);
    sum += value * value;
    *(cavum_lanes *)(column + i) = inverse * value;
  }
  column[c] = pivot;
  for (int l = 0; l < LANES; l++) total += sum[l];
  return total;
}

// The slow, exact look at what the elimination of a divided column does to the diagonal.
static bool grows(const cavum_dense_front *f, int c) {
  const double *column = cavum_front_column(f, c);
  for (int i = c + 1; i < f->m; i++) {
    double taken = fabs(column[i] * column[i] * column[c]);
    if (!(taken <= GROWTH_MOST * fabs(cavum_front_column(f, i)[i]))) return true;
  }
  return false;
}

static double trace(const cavum_dense_front *f) {
  double sum = 0.0;
  for (int i = 0; i < f->m; i++) sum += fabs(cavum_front_column(f, i)[i]);
  return sum;
}

// Factorises columns j .. j + width of a panel for all rows below, with the columns before already
// applied; counts and checks pivots. In a definite matrix the sum of |a_ic|^2 is at most a_cc times
// the trace, so that only columns that break this need the slow look.
static void factorise_panel(const cavum_dense_front *f, int j, int width, double scale,
                            cavum_front_pivots *pivots) {
  double factor[PANEL];
  int ld = f->leading;
  for (int c = j; c < j + width; c++) {
    double *column = cavum_front_column(f, c);
    for (int b = j; b < c; b++) {
      const double *before = cavum_front_column(f, b);
      factor[b - j] = before[c] * before[b];  // L(c,b) D(b)
    }
    subtract_columns(column, NULL, cavum_front_column(f, j), factor, NULL, c / LANES * LANES, ld,
                     c - j);
    double pivot = column[c], squares = divide(column, c, ld);
    pivots->num_negative += pivot < 0.0;
    if (!(squares <= pivot * scale) && grows(f, c)) pivots->unsafe = true;
    if (!(fabs(pivot) > 0.0)) pivots->unsafe = true;
  }
}

// Columns from .. end minus their share of the columns j .. j + width.
static void update_rest(const cavum_dense_front *front, int j, int width, int from, int end) {
  int ld = front->leading;
  const double *p = cavum_front_column(front, j);
  double f[PANEL], g[PANEL], pivot[PANEL];
  for (int b = 0; b < width; b++) pivot[b] = p[(size_t)b * (size_t)ld + (size_t)(j + b)];
  for (int c = from; c < end; c += 2) {
    bool two = c + 1 < end;
    for (int b = 0; b < width; b++) {
      const double *column = p + (size_t)b * (size_t)ld;
      f[b] = column[c] * pivot[b];
      g[b] = two ? column[c + 1] * pivot[b] : 0.0;
    }
    subtract_columns(cavum_front_column(front, c), two ? cavum_front_column(front, c + 1) : NULL, p,
                     f, g, c / LANES * LANES, ld, width);
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
  double scaled[BLOCK * BLOCK];
  bool own = strip < u->own_strips;
  int c = own ? u->from + strip * BLOCK : f->k + (strip - u->own_strips) * BLOCK;
  int end = own ? f->k : f->m, columns = end - c < BLOCK ? end - c : BLOCK;
  for (int b = 0; b < u->width; b++) {
    const double *p = cavum_front_column(f, u->j + b);
    for (int i = 0; i < columns; i++) scaled[b * BLOCK + i] = p[c + i] * p[u->j + b];
  }
  cblas_dgemm(CblasColMajor, CblasNoTrans, CblasTrans, f->m - c, columns, u->width, -1.0,
              cavum_front_column(f, u->j) + c, f->leading, scaled, BLOCK, 1.0,
              cavum_front_column(f, c) + c, cavum_front_step(f, c));
}

static void update_strips(void *context, int64_t first, int64_t end, int worker) {
  (void)worker;
  for (int64_t strip = first; strip < end && !cavum_stop_asked(); strip++) {
    update_strip(context, (int)strip);
  }
}

// Lower triangle of columns from .. m minus L D L^T of the columns j .. j + width, through the
// BLAS, by strips of columns so that little is computed above the diagonal.
static void update_large(const cavum_dense_front *f, int j, int width, int from) {
  update u = {f, j, width, from, count_strips(f->k - from)};
  cavum_threads_run(update_strips, &u, u.own_strips + count_strips(f->m - f->k), 1,
                    f->m - from >= SHARED ? cavum_threads_count() : 1);
}

cavum_front_pivots cavum_front_factorise(const cavum_dense_front *f) {
  cavum_front_pivots pivots = {0, false};
  int m = f->m, k = f->k, strip = m > LARGE ? BLOCK : k;
  double scale = trace(f);
  for (int block = 0; block < k; block += strip) {
    int end = block + strip < k ? block + strip : k, last = m > LARGE ? end : m;
    for (int j = block; j < end; j += PANEL) {
      int width = end - j < PANEL ? end - j : PANEL;
      factorise_panel(f, j, width, scale, &pivots);
      update_rest(f, j, width, j + width, last);
    }
    if (m > LARGE && cavum_stop_asked()) break;  // who called finds out by asking too
    if (m > LARGE) update_large(f, block, end - block, end);
  }
  for (int c = LANES; c < k; c++) {  // the vector of the pivot has its zeros already
    for (int i = 0; i < c / LANES * LANES; i++) cavum_front_column(f, c)[i] = 0.0;
  }
  return pivots;
}

// One or two columns of the forward half; the diagonal holds D, not the ones of L: own unknowns are
// put back after each step.
static inline __attribute__((always_inline)) void forward_step(double *restrict x,
                                                               const double *restrict p0, int ld,
                                                               int c, bool two, const int count) {
  const double *p1 = two ? p0 + ld : p0;
  double own[CAVUM_RHS_MOST], next[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    own[r] = x[r * ld + c];
    next[r] = two ? x[r * ld + c + 1] - p0[c + 1] * own[r] : 0.0;
  }
  for (int i = c / LANES * LANES; i < ld; i += LANES) {
    cavum_lanes first = *(const cavum_lanes *)(p0 + i), second = *(const cavum_lanes *)(p1 + i);
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
                                                          const double *restrict panel, int ld,
                                                          int k, const int count) {
  int c = 0;
  for (; c + 1 < k; c += 2) forward_step(x, panel + (size_t)c * (size_t)ld, ld, c, true, count);
  if (c < k) forward_step(x, panel + (size_t)c * (size_t)ld, ld, c, false, count);
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
static inline __attribute__((always_inline)) void multiply_rows(cavum_sum *sum, cavum_sum *other,
                                                                const double *restrict x,
                                                                const double *p0, const double *p1,
                                                                int start, int ld,
                                                                const int count) {
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
}

// Two columns of the backward half, c and the one before it, or one.
static inline __attribute__((always_inline)) void backward_step(double *restrict x,
                                                                const double *restrict p0, int ld,
                                                                int c, bool two, const int count) {
  const double *p1 = two ? p0 - ld : p0;
  double own[CAVUM_RHS_MOST], before[CAVUM_RHS_MOST];
  cavum_sum sum[CAVUM_RHS_MOST], other[CAVUM_RHS_MOST];
  for (int r = 0; r < count; r++) {
    own[r] = x[r * ld + c];
    before[r] = two ? x[r * ld + c - 1] : 0.0;
    x[r * ld + c] = 0.0;  // the diagonal holds D
    if (two) x[r * ld + c - 1] = 0.0;
  }
  multiply_rows(sum, other, x, p0, p1, (two ? c - 1 : c) / LANES * LANES, ld, count);
  for (int r = 0; r < count; r++) {
    own[r] -= sum_lanes(&sum[r]);
    x[r * ld + c] = own[r];
    if (two) x[r * ld + c - 1] = before[r] - sum_lanes(&other[r]) - p1[c] * own[r];
  }
}

static inline __attribute__((always_inline)) void backward(double *restrict x,
                                                           const double *restrict panel, int ld,
                                                           int k, const int count) {
  int c = k - 1;
  for (; c > 0; c -= 2) backward_step(x, panel + (size_t)c * (size_t)ld, ld, c, true, count);
  if (c == 0) backward_step(x, panel, ld, c, false, count);
}

CAVUM_FAST void cavum_front_forward(double *restrict x, const double *restrict panel, int leading,
                                    int k, int count) {
  CAVUM_FOR_RHS(forward, count, x, panel, leading, k);
}

CAVUM_FAST void cavum_front_backward(double *restrict x, const double *restrict panel, int leading,
                                     int k, int count) {
  CAVUM_FOR_RHS(backward, count, x, panel, leading, k);
}
