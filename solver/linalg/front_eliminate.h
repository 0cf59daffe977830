// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/front_eliminate.h
 * Elimination in a front, written once for both precisions. Who includes it defines `real` and
 * `reals`, a number and a vector of LANES of them; BLOCK, the columns of a strip of a large front;
 * GROWTH_MOST, the growth of a diagonal entry that costs as many digits; COLUMN(), the column of a
 * front; and GEMM(), the product of the BLAS.
 *
 * Columns are eliminated up to eight at a time, so that the update of the rest reads and writes
 * each entry once for eight pivots; for each number of columns the compiler makes a kernel of its
 * own.
 */
#ifndef CAVUM_LINALG_FRONT_ELIMINATE_H
#define CAVUM_LINALG_FRONT_ELIMINATE_H

#include <math.h>
#include <stddef.h>

#include "base/fast.h"
#include "base/stop.h"
#include "base/threads.h"
#include "linalg/blas_calls.h"
#include "linalg/front.h"

enum { PANEL = 8, LARGE = 256 };
// Rows of an update that threads share: fewer take less time than starting them.
enum { SHARED = 512 };

// x -= p F and y -= p G for `width` columns of p; all in whole vectors from `start` to ld. With
// `two` false y is left alone.
static inline __attribute__((always_inline)) void subtract(real *restrict x, real *restrict y,
                                                           const real *restrict p, const real *f,
                                                           const real *g, int start, int ld,
                                                           int width, bool two) {
  for (int i = start; i < ld; i += LANES) {
    reals sx = *(reals *)(x + i), sy = {0};
    if (two) sy = *(reals *)(y + i);
    for (int b = 0; b < width; b++) {
      reals column = *(const reals *)(p + (size_t)b * (size_t)ld + i);
      sx -= f[b] * column;
      if (two) sy -= g[b] * column;
    }
    *(reals *)(x + i) = sx;
    if (two) *(reals *)(y + i) = sy;
  }
}

// subtract() for 1 to 8 columns, a kernel for each number; y may be NULL.
CAVUM_FAST static void subtract_columns(real *restrict x, real *restrict y, const real *restrict p,
                                        const real *f, const real *g, int start, int ld,
                                        int width) {
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
CAVUM_FAST static double divide(real *restrict column, int c, int ld) {
  int start = c / LANES * LANES;
  real pivot = column[c], inverse = 1 / pivot;
  double total = 0.0;
  reals sum = {0};
  for (int i = start; i <= c; i++) column[i] = 0;
  for (int i = start; i < ld; i += LANES) {
    reals value = *(reals *)(column + i);
    sum += value * value;
    *(reals *)(column + i) = inverse * value;
  }
  column[c] = pivot;
  for (int l = 0; l < LANES; l++) total += (double)sum[l];
  return total;
}

// The slow, exact look at what the elimination of a divided column does to the diagonal.
static bool grows(const cavum_dense_front *f, int c) {
  const real *column = COLUMN(f, c);
  for (int i = c + 1; i < f->m; i++) {
    double entry = (double)column[i], taken = fabs(entry * entry * (double)column[c]);
    if (!(taken <= GROWTH_MOST * fabs((double)COLUMN(f, i)[i]))) return true;
  }
  return false;
}

static double trace(const cavum_dense_front *f) {
  double sum = 0.0;
  for (int i = 0; i < f->m; i++) sum += fabs((double)COLUMN(f, i)[i]);
  return sum;
}

// Factorises columns j .. j + width of a panel for all rows below, with the columns before already
// applied; counts and checks pivots. In a definite matrix the sum of |a_ic|^2 is at most a_cc times
// the trace, so that only columns that break this need the slow look.
static void factorise_panel(const cavum_dense_front *f, int j, int width, double scale,
                            cavum_front_pivots *pivots) {
  real factor[PANEL];
  int ld = f->leading;
  for (int c = j; c < j + width; c++) {
    real *column = COLUMN(f, c);
    for (int b = j; b < c; b++) {
      const real *before = COLUMN(f, b);
      factor[b - j] = before[c] * before[b];  // L(c,b) D(b)
    }
    subtract_columns(column, NULL, COLUMN(f, j), factor, NULL, c / LANES * LANES, ld, c - j);
    double pivot = (double)column[c], squares = divide(column, c, ld);
    pivots->num_negative += pivot < 0.0;
    if (!(squares <= pivot * scale) && grows(f, c)) pivots->unsafe = true;
    if (!(fabs(pivot) > 0.0)) pivots->unsafe = true;
  }
}

// Columns from .. end minus their share of the columns j .. j + width.
static void update_rest(const cavum_dense_front *front, int j, int width, int from, int end) {
  int ld = front->leading;
  const real *p = COLUMN(front, j);
  real f[PANEL], g[PANEL], pivot[PANEL];
  for (int b = 0; b < width; b++) pivot[b] = p[(size_t)b * (size_t)ld + (size_t)(j + b)];
  for (int c = from; c < end; c += 2) {
    bool two = c + 1 < end;
    for (int b = 0; b < width; b++) {
      const real *column = p + (size_t)b * (size_t)ld;
      f[b] = column[c] * pivot[b];
      g[b] = two ? column[c + 1] * pivot[b] : 0;
    }
    subtract_columns(COLUMN(front, c), two ? COLUMN(front, c + 1) : NULL, p, f, g,
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
  real scaled[BLOCK * BLOCK];
  bool own = strip < u->own_strips;
  int c = own ? u->from + strip * BLOCK : f->k + (strip - u->own_strips) * BLOCK;
  int end = own ? f->k : f->m, columns = end - c < BLOCK ? end - c : BLOCK;
  for (int b = 0; b < u->width; b++) {
    const real *p = COLUMN(f, u->j + b);
    for (int i = 0; i < columns; i++) scaled[b * BLOCK + i] = p[c + i] * p[u->j + b];
  }
  GEMM(CblasColMajor, CblasNoTrans, CblasTrans, f->m - c, columns, u->width, -1,
       COLUMN(f, u->j) + c, f->leading, scaled, BLOCK, 1, COLUMN(f, c) + c, cavum_front_step(f, c));
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
    for (int i = 0; i < c / LANES * LANES; i++) COLUMN(f, c)[i] = 0;
  }
}

#endif
