// SPDX-License-Identifier: GPL-3.0-or-later
// The arithmetic of one factorisation and a few solves, and how fast this core multiplies matrices.
#include <cblas.h>

#include "base/base.h"
#include "fem/skeleton.h"
#include "rate_problem.h"
#include "rate_report.h"

// L D L^T of the first k of m unknowns with the Schur complement of the rest.
static double eliminate(double m, double k) {
  double rest = m - k;
  return k * k * k / 3.0 + k * k * rest + k * rest * rest;
}

// Both halves of a solve with these columns.
static double substitute(double m, double k) { return 2.0 * (k * k + 2.0 * k * (m - k)); }

// K - shift M of a quadrilateral: sums over xi for all pairs (i, k), then over eta. The terms of
// g11 and of the mass share their sum over eta; the mixed term, which only rectangles do without,
// has no symmetry there.
static double element_matrix(double degree) {
  double n = degree + 1.0, q = n, pairs = n * (n + 1.0) / 2.0;
  double over_xi = 2.0 * q * q * pairs * (3.0 + 2.0);
  double over_eta = 2.0 * q * pairs * (2.0 * pairs + n * n);
  return over_xi + over_eta;
}

// M x of a quadrilateral: to the points and back.
static double product(double degree) {
  double n = degree + 1.0;
  return 8.0 * n * n * n;
}

static double skeleton_flops(const cavum_skeleton *skeleton, int degree) {
  double flops = 0.0;
  for (cavum_index s = 0; s < skeleton->plan->num_supernodes; s++) {
    const cavum_supernode *node = &skeleton->plan->supernodes[s];
    double size = 0.0, own = 0.0;
    for (cavum_index b = 0; b < node->num_blocks; b++) {
      cavum_index block = skeleton->plan->front_blocks[node->first_block + b];
      double unknowns = cavum_skeleton_block_size(skeleton, block, degree);
      size += unknowns;
      if (b < node->num_own) own += unknowns;
    }
    flops += eliminate(size, own) + RATE_SOLVES * substitute(size, own);
  }
  return flops;
}

cavum_status rate_problem_flops(double *flops, const cavum_result *result, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_skeleton skeleton = {0};
  cavum_closure closure = {.symmetry_is_magnetic = result->modes[0].parity == CAVUM_PARITY_ODD};
  double degree = result->degree, all = (degree + 1.0) * (degree + 1.0);
  double interior = (degree - 1.0) * (degree - 1.0);
  CAVUM_TRY(cavum_skeleton_create(&skeleton, &result->mesh, &closure, error));
  double element = element_matrix(degree) + eliminate(all, interior) +
                   RATE_SOLVES * (substitute(all, interior) + product(degree));
  *flops = result->mesh.num_elements * element + skeleton_flops(&skeleton, result->degree);
done:
  cavum_skeleton_clear(&skeleton);
  return status;
}

double rate_problem_product_rate(void) {
  enum { SIZE = 1024, REPEATS = 15 };
  double seconds[REPEATS];
  double *a = cavum_alloc(3 * (int64_t)SIZE * SIZE, sizeof *a);
  if (!a) return 0.0;
  double *b = a + SIZE * SIZE, *c = b + SIZE * SIZE;
  for (int i = 0; i < 2 * SIZE * SIZE; i++) a[i] = 1.0 / (1.0 + i % 1021);
  for (int i = 0; i < REPEATS; i++) {
    double start = cavum_seconds();
    cblas_dgemm(CblasColMajor, CblasNoTrans, CblasNoTrans, SIZE, SIZE, SIZE, 1.0, a, SIZE, b, SIZE,
                0.0, c, SIZE);
    seconds[i] = cavum_seconds() - start;
  }
  free(a);
  return 2.0 * SIZE * SIZE * SIZE / rate_quantile(seconds, REPEATS, 0.0);
}
