// SPDX-License-Identifier: GPL-3.0-or-later
// Tall thin products in whole vectors of unknowns.
#include "linalg/tall_skinny.h"

#include <stddef.h>
#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"

enum { LANES = CAVUM_LANES, ROWS = 2, COLUMNS = 4, CHUNKS = 4 };
// Unknowns of a product at a time: those of a hundred vectors stay in the cache of a core.
enum { SPAN = 512 };

typedef cavum_lanes_anywhere lanes;

// A block of ROWS x COLUMNS entries; with fewer the last ones are computed again.
CAVUM_FAST static void product_block(double *restrict c, int ldc, const double *const a[ROWS],
                                     const double *const b[COLUMNS], cavum_index size) {
  lanes sum[ROWS][COLUMNS] = {{{0}}};
  double total[ROWS][COLUMNS] = {{0.0}};
  cavum_index i = 0;
  for (; i + LANES <= size; i += LANES) {
    for (int r = 0; r < ROWS; r++) {
      lanes x = *(const lanes *)(a[r] + i);
      for (int k = 0; k < COLUMNS; k++) sum[r][k] += x * *(const lanes *)(b[k] + i);
    }
  }
  for (; i < size; i++) {
    for (int r = 0; r < ROWS; r++) {
      for (int k = 0; k < COLUMNS; k++) total[r][k] += a[r][i] * b[k][i];
    }
  }
  for (int r = 0; r < ROWS; r++) {
    for (int k = 0; k < COLUMNS; k++) {
      for (int l = 0; l < LANES; l++) total[r][k] += sum[r][k][l];
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

// `chunks` vectors of rows at once: each coefficient is loaded once for all.
static inline __attribute__((always_inline)) void combine(double *v, size_t stride, int from,
                                                          int to, const double *restrict c, int ldc,
                                                          const int chunks) {
  lanes x[CAVUM_TALL_SKINNY_MOST * CHUNKS];
  for (int k = 0; k < from; k++) {
    for (int m = 0; m < chunks; m++) {
      x[k * chunks + m] = *(const lanes *)(v + stride * (size_t)k + (size_t)(m * LANES));
    }
  }
  for (int j = 0; j < to; j++) {
    const double *factor = c + (size_t)j * (size_t)ldc;
    lanes sum[CHUNKS] = {{0}};
    for (int k = 0; k < from; k++) {
      for (int m = 0; m < chunks; m++) sum[m] += factor[k] * x[k * chunks + m];
    }
    for (int m = 0; m < chunks; m++) {
      *(lanes *)(v + stride * (size_t)j + (size_t)(m * LANES)) = sum[m];
    }
  }
}

CAVUM_FAST void cavum_tall_skinny_combine(double *v, cavum_index size, int from, int to,
                                          const double *restrict c, int ldc) {
  size_t stride = (size_t)size;
  cavum_index i = 0;
  CAVUM_ASSERT(from <= CAVUM_TALL_SKINNY_MOST && to <= from);
  for (; i + CHUNKS * LANES <= size; i += CHUNKS * LANES) {
    combine(v + i, stride, from, to, c, ldc, CHUNKS);
  }
  for (; i + LANES <= size; i += LANES) combine(v + i, stride, from, to, c, ldc, 1);
  for (; i < size; i++) {
    double x[CAVUM_TALL_SKINNY_MOST];
    for (int k = 0; k < from; k++) x[k] = v[stride * (size_t)k + (size_t)i];
    for (int j = 0; j < to; j++) {
      double sum = 0.0;
      for (int k = 0; k < from; k++) sum += c[j * ldc + k] * x[k];
      v[stride * (size_t)j + (size_t)i] = sum;
    }
  }
}
