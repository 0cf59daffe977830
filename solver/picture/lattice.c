// SPDX-License-Identifier: GPL-3.0-or-later
// Lagrange interpolation on the equispaced lattices of elements.
#include "picture/lattice.h"

#include <string.h>

#include "base/base.h"
#include "element/lattice_product.h"

cavum_status cavum_lattice_create(cavum_lattice *lattice, int order, cavum_error *error) {
  const int finest = 1 << CAVUM_LATTICE_LEVEL_MOST;
  memset(lattice, 0, sizeof *lattice);
  lattice->work = cavum_alloc((int64_t)(order + 1) * (finest + 1), sizeof(double));
  if (!lattice->work) return cavum_fail_memory(error);
  lattice->order = order;
  return CAVUM_OK;
}

void cavum_lattice_clear(cavum_lattice *lattice) {
  if (!lattice) return;
  for (int level = 0; level <= CAVUM_LATTICE_LEVEL_MOST; level++) {
    free(lattice->segment[level]);
    free(lattice->triangle[level]);
  }
  free(lattice->work);
  memset(lattice, 0, sizeof *lattice);
}

// Lagrange polynomial of point `node` among 0, 1, ..., order, at x in the same units.
static double segment_weight(int order, int node, double x) {
  double weight = 1.0;
  for (int k = 0; k <= order; k++) {
    if (k != node) weight *= (x - k) / (node - k);
  }
  return weight;
}

static const double *need_segment(cavum_lattice *lattice, int level) {
  int n = lattice->order, divisions = 1 << level;
  if (lattice->segment[level]) return lattice->segment[level];
  double *weights = cavum_alloc((int64_t)(divisions + 1) * (n + 1), sizeof *weights);
  for (int i = 0; weights && i <= divisions; i++) {
    double x = (double)i * n / divisions;
    for (int k = 0; k <= n; k++) weights[i * (n + 1) + k] = segment_weight(n, k, x);
  }
  lattice->segment[level] = weights;
  return weights;
}

static const double *need_triangle(cavum_lattice *lattice, int level) {
  int n = lattice->order, divisions = 1 << level;
  if (lattice->triangle[level]) return lattice->triangle[level];
  int64_t coarse = cavum_element_lattice_count(3, n),
          fine = cavum_element_lattice_count(3, divisions);
  double *weights = cavum_alloc(coarse * fine, sizeof *weights), *at = weights;
  for (int fj = 0; weights && fj <= divisions; fj++) {
    for (int fi = 0; fi + fj <= divisions; fi++) {
      double x = (double)fi * n / divisions, y = (double)fj * n / divisions;
      for (int j = 0; j <= n; j++) {
        for (int i = 0; i + j <= n; i++) {
          *at++ = cavum_lattice_product(i, x) * cavum_lattice_product(j, y) *
                  cavum_lattice_product(n - i - j, n - x - y);
        }
      }
    }
  }
  lattice->triangle[level] = weights;
  return weights;
}

static void multiply(double *out, const double *matrix, const double *in, int rows, int columns) {
  for (int i = 0; i < rows; i++) {
    double sum = 0.0;
    for (int k = 0; k < columns; k++)
      sum += matrix[(size_t)i * (size_t)columns + (size_t)k] * in[k];
    out[i] = sum;
  }
}

cavum_status cavum_lattice_refine(double *fine, cavum_lattice *lattice, const double *coarse,
                                  int corners, int level, cavum_error *error) {
  int n = lattice->order, m = 1 << level;
  if (corners == 3) {
    const double *weights = need_triangle(lattice, level);
    if (!weights) return cavum_fail_memory(error);
    multiply(fine, weights, coarse, cavum_element_lattice_count(3, m),
             cavum_element_lattice_count(3, n));
    return CAVUM_OK;
  }
  const double *weights = need_segment(lattice, level);
  if (!weights) return cavum_fail_memory(error);
  double *rows = lattice->work;  // Along xi first: shape [n + 1, m + 1].
  for (int j = 0; j <= n; j++)
    multiply(rows + j * (m + 1), weights, coarse + j * (n + 1), m + 1, n + 1);
  memset(fine, 0, (size_t)cavum_element_lattice_count(4, m) * sizeof *fine);
  for (int j = 0; j <= m; j++) {
    for (int k = 0; k <= n; k++) {
      double weight = weights[j * (n + 1) + k];
      for (int i = 0; i <= m; i++) fine[j * (m + 1) + i] += weight * rows[k * (m + 1) + i];
    }
  }
  return CAVUM_OK;
}

static void weigh_square(double *weights, int n, double x, double y) {
  double across[CAVUM_LATTICE_ORDER_MOST + 1], up[CAVUM_LATTICE_ORDER_MOST + 1];
  for (int k = 0; k <= n; k++) {
    across[k] = segment_weight(n, k, x);
    up[k] = segment_weight(n, k, y);
  }
  for (int j = 0; j <= n; j++) {
    for (int i = 0; i <= n; i++) *weights++ = up[j] * across[i];
  }
}

void cavum_lattice_weigh(double *weights, int order, int corners, double x, double y) {
  double first[CAVUM_LATTICE_ORDER_MOST + 1], second[CAVUM_LATTICE_ORDER_MOST + 1],
      third[CAVUM_LATTICE_ORDER_MOST + 1];
  int n = order;
  x *= n;
  y *= n;
  if (corners == 4) {
    weigh_square(weights, n, x, y);
    return;
  }
  for (int k = 0; k <= n; k++) {
    first[k] = cavum_lattice_product(k, x);
    second[k] = cavum_lattice_product(k, y);
    third[k] = cavum_lattice_product(k, n - x - y);
  }
  for (int j = 0; j <= n; j++) {
    for (int i = 0; i + j <= n; i++) *weights++ = first[i] * second[j] * third[n - i - j];
  }
}

// Index of the i-th lattice point along a local edge.
static int edge_index(int n, int corners, int edge, int i) {
  if (corners == 4) {
    const int at[4][2] = {{i, 0}, {n, i}, {n - i, n}, {0, n - i}};
    return at[edge][1] * (n + 1) + at[edge][0];
  }
  const int at[3][2] = {{i, 0}, {n - i, i}, {0, n - i}};
  return at[edge][1] * (2 * n + 3 - at[edge][1]) / 2 + at[edge][0];
}

cavum_status cavum_lattice_refine_edge(double *fine, cavum_lattice *lattice, const double *coarse,
                                       int corners, int edge, int level, cavum_error *error) {
  int n = lattice->order;
  const double *weights = need_segment(lattice, level);
  if (!weights) return cavum_fail_memory(error);
  for (int i = 0; i <= n; i++) lattice->work[i] = coarse[edge_index(n, corners, edge, i)];
  multiply(fine, weights, lattice->work, (1 << level) + 1, n + 1);
  return CAVUM_OK;
}
