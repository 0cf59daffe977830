// SPDX-License-Identifier: GPL-3.0-or-later
// Dense kernels of the factorisation. Columns are eliminated four at a time, so that the update of
// the rest reads and writes each entry once for four pivots.
#include "front.h"

#include <cblas.h>
#include <math.h>
#include <stddef.h>

#include "fast.h"

enum { PANEL = 4, BLOCK = 48, LARGE = 256, LANES = 8 };
// Growth of a diagonal entry by this factor costs as many digits.
static const double GROWTH_MOST = 1e7;

// Factorises columns j .. j + width of a panel for all rows below, with the columns before already
// applied; counts and checks pivots.
CAVUM_FAST static void factorise_panel(double *restrict a, int m, int j, int width,
                                       cavum_front_pivots *pivots) {
  for (int c = j; c < j + width; c++) {
    double *restrict column = a + (size_t)c * (size_t)m;
    for (int b = j; b < c; b++) {
      const double *restrict before = a + (size_t)b * (size_t)m;
      double factor = before[c] * before[b];  // L(c,b) D(b)
      for (int i = c; i < m; i++) column[i] -= before[i] * factor;
    }
    double pivot = column[c], inverse = 1.0 / pivot, growth = 0.0;
    pivots->num_negative += pivot < 0.0;
    for (int i = c + 1; i < m; i++) {
      double taken = fabs(column[i] * column[i] * inverse);
      double excess = taken - GROWTH_MOST * fabs(a[(size_t)i * (size_t)m + (size_t)i]);
      growth = excess > growth ? excess : growth;
      column[i] *= inverse;
    }
    if (!(fabs(pivot) > 0.0) || growth > 0.0) pivots->unsafe = true;
  }
}

// Columns from .. end minus their share of four pivots, two columns at a time.
CAVUM_FAST static void update_rest(double *restrict a, int m, int j, int from, int end) {
  const double *restrict p0 = a + (size_t)j * (size_t)m;
  const double *restrict p1 = p0 + m, *restrict p2 = p1 + m, *restrict p3 = p2 + m;
  double d0 = p0[j], d1 = p1[j + 1], d2 = p2[j + 2], d3 = p3[j + 3];
  int c = from;
  for (; c + 1 < end; c += 2) {
    double *restrict x = a + (size_t)c * (size_t)m, *restrict y = x + m;
    double x0 = p0[c] * d0, x1 = p1[c] * d1, x2 = p2[c] * d2, x3 = p3[c] * d3;
    double y0 = p0[c + 1] * d0, y1 = p1[c + 1] * d1, y2 = p2[c + 1] * d2, y3 = p3[c + 1] * d3;
    x[c] -= p0[c] * x0 + p1[c] * x1 + p2[c] * x2 + p3[c] * x3;
    for (int i = c + 1; i < m; i++) {
      double l0 = p0[i], l1 = p1[i], l2 = p2[i], l3 = p3[i];
      x[i] -= l0 * x0 + l1 * x1 + l2 * x2 + l3 * x3;
      y[i] -= l0 * y0 + l1 * y1 + l2 * y2 + l3 * y3;
    }
  }
  if (c < end) {
    double *restrict x = a + (size_t)c * (size_t)m;
    double x0 = p0[c] * d0, x1 = p1[c] * d1, x2 = p2[c] * d2, x3 = p3[c] * d3;
    for (int i = c; i < m; i++) x[i] -= p0[i] * x0 + p1[i] * x1 + p2[i] * x2 + p3[i] * x3;
  }
}

// The same for a last panel of fewer columns.
CAVUM_FAST static void update_rest_narrow(double *restrict a, int m, int j, int width, int from,
                                          int end) {
  for (int b = j; b < j + width; b++) {
    const double *restrict p = a + (size_t)b * (size_t)m;
    for (int c = from; c < end; c++) {
      double *restrict x = a + (size_t)c * (size_t)m;
      double factor = p[c] * p[b];
      for (int i = c; i < m; i++) x[i] -= p[i] * factor;
    }
  }
}

// Columns j .. j + width, the rest of the panel's own columns up to `end` updated.
static void factorise_columns(double *restrict a, int m, int j, int width, int end,
                              cavum_front_pivots *pivots) {
  factorise_panel(a, m, j, width, pivots);
  if (width == PANEL) {
    update_rest(a, m, j, j + width, end);
  } else {
    update_rest_narrow(a, m, j, width, j + width, end);
  }
}

// Lower triangle of columns from .. m minus L D L^T of the columns j .. j + width, through the
// BLAS, by strips of columns so that little is computed above the diagonal.
static void update_large(double *a, int m, int j, int width, int from, double *scaled) {
  for (int c = from; c < m; c += BLOCK) {
    int columns = m - c < BLOCK ? m - c : BLOCK;
    for (int b = 0; b < width; b++) {
      const double *p = a + (size_t)(j + b) * (size_t)m;
      for (int i = 0; i < columns; i++) scaled[b * BLOCK + i] = p[c + i] * p[j + b];
    }
    cblas_dgemm(CblasColMajor, CblasNoTrans, CblasTrans, m - c, columns, width, -1.0,
                a + (size_t)j * (size_t)m + (size_t)c, m, scaled, BLOCK, 1.0,
                a + (size_t)c * (size_t)m + (size_t)c, m);
  }
}

static cavum_front_pivots factorise_large(double *a, int m, int k) {
  cavum_front_pivots pivots = {0, false};
  double scaled[BLOCK * BLOCK];
  for (int block = 0; block < k; block += BLOCK) {
    int end = block + BLOCK < k ? block + BLOCK : k;
    for (int j = block; j < end; j += PANEL) {
      factorise_columns(a, m, j, end - j < PANEL ? end - j : PANEL, end, &pivots);
    }
    update_large(a, m, block, end - block, end, scaled);
  }
  return pivots;
}

cavum_front_pivots cavum_front_factorise(double *restrict a, int m, int k) {
  if (m > LARGE) return factorise_large(a, m, k);
  cavum_front_pivots pivots = {0, false};
  for (int j = 0; j < k; j += PANEL) {
    factorise_columns(a, m, j, k - j < PANEL ? k - j : PANEL, m, &pivots);
  }
  return pivots;
}

CAVUM_FAST void cavum_front_forward(double *restrict own, double *restrict border,
                                    const double *restrict panel, int m, int k) {
  for (int c = 0; c < k; c++) {
    const double *restrict column = panel + (size_t)c * (size_t)m;
    double x = own[c];
    for (int i = c + 1; i < k; i++) own[i] -= column[i] * x;
    for (int i = k; i < m; i++) border[i - k] -= column[i] * x;
  }
  for (int c = 0; c < k; c++) own[c] /= panel[(size_t)c * (size_t)m + (size_t)c];
}

// x . y; several partial sums in a fixed order, because one running sum cannot be vectorised.
CAVUM_FAST static double dot(const double *restrict x, const double *restrict y, int count) {
  double part[LANES] = {0.0}, sum = 0.0;
  int i = 0;
  for (; i + LANES <= count; i += LANES) {
    for (int k = 0; k < LANES; k++) part[k] += x[i + k] * y[i + k];
  }
  for (; i < count; i++) sum += x[i] * y[i];
  for (int k = 0; k < LANES; k++) sum += part[k];
  return sum;
}

void cavum_front_backward(double *restrict own, const double *restrict border,
                          const double *restrict panel, int m, int k) {
  for (int c = k - 1; c >= 0; c--) {
    const double *restrict column = panel + (size_t)c * (size_t)m;
    own[c] -= dot(column + c + 1, own + c + 1, k - c - 1) + dot(column + k, border, m - k);
  }
}
