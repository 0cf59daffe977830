// SPDX-License-Identifier: GPL-3.0-or-later
// Tall thin products in whole vectors of unknowns.
#include "linalg/tall_skinny.h"

#include <stddef.h>
#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"

enum { HALF = CAVUM_LANES / 2, ROWS = 3, COLUMNS = 4 };
// Unknowns of a product at a time: those of a hundred vectors stay in the cache of a core.
enum { SPAN = 512 };
// Of a combination: as many vectors of unknowns, so that those of all vectors stay close.
enum { CHUNKS = 3, STRIP = CHUNKS * HALF };

typedef cavum_half_anywhere half;

// A block of ROWS x COLUMNS entries; with fewer the last ones are computed again. As many sums as
// fit into the registers.
CAVUM_FAST static void product_block(double *restrict c, int ldc, const double *const a[ROWS],
                                     const double *const b[COLUMNS], cavum_index size) {
  cavum_half sum[ROWS][COLUMNS] = {{{0}}};
  double total[ROWS][COLUMNS] = {{0.0}};
  cavum_index i = 0;
  for (; i + HALF <= size; i += HALF) {
    for (int r = 0; r < ROWS; r++) {
      cavum_half x = *(const half *)(a[r] + i);
      for (int k = 0; k < COLUMNS; k++) sum[r][k] += x * *(const half *)(b[k] + i);
    }
  }
  for (; i < size; i++) {
    for (int r = 0; r < ROWS; r++) {
      for (int k = 0; k < COLUMNS; k++) total[r][k] += a[r][i] * b[k][i];
    }
  }
  for (int r = 0; r < ROWS; r++) {
    for (int k = 0; k < COLUMNS; k++) {
      for (int l = 0; l < HALF; l++) total[r][k] += sum[r][k][l];
      c[k * ldc + r] = total[r][k];
    }
  }
}

// Adds what some unknowns give.
static void add_product(double *restrict c, int ldc, const double *restrict a, int num_a,
                        const double *restrict b, int num_b, size_t stride, cavum_index size) {
  for (int i = 0; i < num_a; i += ROWS) {
    for (int j = 0; j < num_b; j += COLUMNS) {
      const double *rows[ROWS], *columns[COLUMNS];
      double block[ROWS * COLUMNS];
      for (int r = 0; r < ROWS; r++) rows[r] = a + stride * (size_t)(i + r < num_a ? i + r : i);
      for (int k = 0; k < COLUMNS; k++) {
        columns[k] = b + stride * (size_t)(j + k < num_b ? j + k : j);
      }
      product_block(block, ROWS, rows, columns, size);
      for (int k = 0; k < COLUMNS && j + k < num_b; k++) {
        for (int r = 0; r < ROWS && i + r < num_a; r++)
          c[(j + k) * ldc + i + r] += block[k * ROWS + r];
      }
    }
  }
}

void cavum_tall_skinny_product(double *restrict c, int ldc, const double *restrict a, int num_a,
                               const double *restrict b, int num_b, cavum_index size) {
  for (int j = 0; j < num_b; j++) memset(c + j * ldc, 0, (size_t)num_a * sizeof *c);
  for (cavum_index first = 0; first < size; first += SPAN) {
    cavum_index some = size - first < SPAN ? size - first : SPAN;
    add_product(c, ldc, a + first, num_a, b + first, num_b, (size_t)size, some);
  }
}

// COLUMNS combinations of a strip of rows, [from][STRIP]: as many sums as fit into the registers.
static inline __attribute__((always_inline)) void combine_block(double *restrict to[COLUMNS],
                                                                const double *restrict x, int from,
                                                                const double *const c[COLUMNS]) {
  cavum_half sum[COLUMNS][CHUNKS] = {{{0}}};
  for (int k = 0; k < from; k++) {
    const half *strip = (const half *)(x + (size_t)k * STRIP);
    for (int j = 0; j < COLUMNS; j++) {
      for (int m = 0; m < CHUNKS; m++) sum[j][m] += c[j][k] * strip[m];
    }
  }
  for (int j = 0; j < COLUMNS; j++) {
    for (int m = 0; m < CHUNKS; m++) ((half *)to[j])[m] = sum[j][m];
  }
}

// A strip of `rows` rows of all vectors; what is beyond is computed with zeros.
static inline __attribute__((always_inline)) void combine_strip(double *v, size_t stride, int from,
                                                                int to, const double *restrict c,
                                                                int ldc, const int rows) {
  double x[CAVUM_TALL_SKINNY_MOST * STRIP], spare[COLUMNS][STRIP];
  for (int k = 0; k < from; k++) {
    const double *vector = v + stride * (size_t)k;
    for (int m = 0; m < STRIP; m++) x[k * STRIP + m] = m < rows ? vector[m] : 0.0;
  }
  for (int j = 0; j < to; j += COLUMNS) {
    const double *factor[COLUMNS];
    double *sum[COLUMNS];
    for (int k = 0; k < COLUMNS; k++) {
      bool direct = rows == STRIP && j + k < to;
      factor[k] = c + (size_t)(j + k < to ? j + k : j) * (size_t)ldc;
      sum[k] = direct ? v + stride * (size_t)(j + k) : spare[k];
    }
    combine_block(sum, x, from, factor);
    for (int k = 0; rows < STRIP && k < COLUMNS && j + k < to; k++) {
      memcpy(v + stride * (size_t)(j + k), spare[k], (size_t)rows * sizeof *v);
    }
  }
}

CAVUM_FAST void cavum_tall_skinny_combine(double *v, cavum_index size, int from, int to,
                                          const double *restrict c, int ldc) {
  size_t stride = (size_t)size;
  cavum_index i = 0;
  CAVUM_ASSERT(from <= CAVUM_TALL_SKINNY_MOST && to <= from);
  for (; i + STRIP <= size; i += STRIP) combine_strip(v + i, stride, from, to, c, ldc, STRIP);
  if (i < size) combine_strip(v + i, stride, from, to, c, ldc, (int)(size - i));
}
