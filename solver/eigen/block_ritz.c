// SPDX-License-Identifier: GPL-3.0-or-later
// Rayleigh-Ritz in the space of a block. Ritz values never fall below the k^2 they approximate, so
// the lowest of them are kept wherever the shift is.
#include "eigen/block_ritz.h"

#include <string.h>

#include "base/base.h"
#include "linalg/blas_calls.h"
#include "linalg/small_eigen.h"

// Vectors that are parallel up to this, squared, count once: the products of a correction are known
// to fewer digits the smaller it was, and what is left of it beside another one to fewer still.
static const double PARALLEL = 1e-3;

// A column of small matrices for every vector; the first `known` of both sides are the modes of the
// step before, whose products are k^2 - shift and one.
static void fill_small(const cavum_mode_block *b, double *a, double *m, int order, int known) {
  size_t size = (size_t)b->size, from = (size_t)known * size;
  for (int i = 0; i < known; i++) {
    for (int k = 0; k < known; k++) a[k * order + i] = m[k * order + i] = 0.0;
    a[i * order + i] = b->theta[i];
    m[i * order + i] = 1.0;
  }
  // The lower triangle: rows of all from the first new one on.
  cavum_tall_skinny_product(a + known, order, b->v + from, order - known, b->av, order, b->size);
  cavum_tall_skinny_product(m + known, order, b->v + from, order - known, b->mv, order, b->size);
}

// Columns of the Cholesky factorisation of M-products one after the other; those that are parallel
// to the ones before are left out. Gives the number of the others.
static int choose_independent(int *kept, double *factor, const double *m, int order) {
  int count = 0;
  for (int c = 0; c < order; c++) {
    double pivot = m[c * order + c], *row = factor + (size_t)count * (size_t)order;
    for (int k = 0; k < count; k++) {
      const double *before = factor + (size_t)k * (size_t)order;
      double sum = m[kept[k] * order + c];
      for (int j = 0; j < k; j++) sum -= row[j] * before[j];
      row[k] = sum / before[k];
      pivot -= row[k] * row[k];
    }
    if (!(pivot > PARALLEL * m[c * order + c])) continue;
    row[count] = sqrt(pivot);
    kept[count++] = c;
  }
  return count;
}

// Lower triangles of the rows and columns that are kept, in place.
static void keep_only(double *matrix, const int *kept, int count, int order) {
  for (int j = 0; j < count; j++) {
    for (int i = j; i < count; i++) {
      matrix[j * count + i] = matrix[kept[j] * order + kept[i]];
    }
  }
}

// Eigenvectors of the kept columns as combinations of all, in place: [count][order].
static void spread_out(double *c, const int *kept, int count, int order, double *scratch) {
  memcpy(scratch, c, (size_t)count * (size_t)count * sizeof *c);
  memset(c, 0, (size_t)count * (size_t)order * sizeof *c);
  for (int j = 0; j < count; j++) {
    for (int i = 0; i < count; i++) c[j * order + kept[i]] = scratch[j * count + i];
  }
}

// Appends to the combinations of the modes those of their directions: what is not from the modes of
// the step before. Only of modes that were being corrected.
static int choose_directions(const cavum_mode_block *b, double *c, int order) {
  int made = 0;
  for (int i = b->first; i < b->wanted && made < order - b->count; i++) {
    if (b->error[i] <= b->accuracy[i]) continue;
    const double *from = c + (size_t)i * (size_t)order;
    double *to = c + (size_t)(b->count + made) * (size_t)order;
    memset(to, 0, (size_t)b->count * sizeof *to);
    memcpy(to + b->count, from + b->count, (size_t)(order - b->count) * sizeof *to);
    double norm = cblas_dnrm2(order - b->count, to + b->count, 1);
    if (!(norm > CAVUM_CORRECTION_LEAST)) continue;
    cblas_dscal(order - b->count, 1.0 / norm, to + b->count, 1);
    made++;
  }
  return made;
}

static int count_negative(const double *values, int count) {
  int negative = 0;
  for (int i = 0; i < count; i++) negative += values[i] < 0.0;
  return negative;
}

// Directions in which corrections cancelled hold little but rounding: they are dropped.
static void settle_directions(cavum_mode_block *b) {
  int made = 0;
  for (int k = 0; k < b->directions; k++) {
    size_t from = (size_t)(b->count + k) * (size_t)b->size;
    if (!cavum_mode_block_normalise(b, from, sqrt(PARALLEL))) continue;
    cavum_mode_block_move(b, b->count + k, b->count + made++);
  }
  b->directions = made;
}

// Energies of all vectors at hand, from the diagonals of their products.
static void take_energies(cavum_mode_block *b, const double *a, const double *m, int order) {
  for (int i = 0; i < order; i++) {
    double energy = a[i * order + i] + b->pencil->shift_per_m2 * m[i * order + i];
    b->energy[i] = cavum_max(energy, 0.0);
  }
}

// How far the modes move by combinations [order] of all vectors, at most and relative in energy: by
// what is not from the modes of the step before.
static void measure_moves(cavum_mode_block *b, const double *c, int order) {
  for (int i = b->first; i < b->wanted; i++) {
    const double *from = c + (size_t)i * (size_t)order;
    double k2 = b->theta[i] + b->pencil->shift_per_m2, sum = 0.0;
    for (int k = b->count; k < order; k++) sum += fabs(from[k]) * sqrt(b->energy[k]);
    b->moved[i] = sum / sqrt(k2);
  }
}

cavum_status cavum_mode_block_take_ritz_pairs(cavum_mode_block *b, bool *lost, bool modes_are_known,
                                              cavum_error *error) {
  int order = b->count + b->directions + b->corrections, kept[CAVUM_TALL_SKINNY_MOST];
  double *a = b->small, *m = a + order * order, *scratch = m + order * order;
  fill_small(b, a, m, order, modes_are_known ? b->count : 0);
  take_energies(b, a, m, order);
  int count = choose_independent(kept, scratch, m, order);
  *lost = count < b->count;
  if (*lost) return CAVUM_OK;
  keep_only(a, kept, count, order);
  keep_only(m, kept, count, order);
  if (!cavum_small_eigen(a, m, b->theta, count, scratch)) {
    return cavum_fail(error, CAVUM_ERR_LIBRARY, "the small eigenproblem has no solution");
  }
  // By the law of inertia no more can be negative.
  *lost = count_negative(b->theta, count) > b->pencil->levels[b->level].num_negative;
  if (*lost) return CAVUM_OK;
  spread_out(a, kept, count, order, scratch);
  if (modes_are_known) measure_moves(b, a, order);
  b->directions = modes_are_known ? choose_directions(b, a, order) : 0;
  cavum_tall_skinny_combine(b->v, b->size, order, b->count + b->directions, a, order);
  cavum_tall_skinny_combine(b->mv, b->size, order, b->count + b->directions, a, order);
  cavum_tall_skinny_combine(b->av, b->size, order, b->count + b->directions, a, order);
  settle_directions(b);
  return CAVUM_OK;
}

bool cavum_mode_block_is_complete(const cavum_mode_block *b) {
  return count_negative(b->theta, b->count) == b->pencil->levels[b->level].num_negative;
}
