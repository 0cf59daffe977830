// SPDX-License-Identifier: GPL-3.0-or-later
// Small symmetric-definite eigenproblems.
#include "linalg/small_eigen.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "linalg/blas_calls.h"

// Lower triangles in columns: column j of a matrix of order n begins at m + j n.

// M = L L^T, in place.
CAVUM_FAST static bool factorise(double *restrict m, int n) {
  for (int j = 0; j < n; j++) {
    double *column = m + j * n;
    if (!(column[j] > 0.0)) return false;
    double diagonal = sqrt(column[j]);
    for (int i = j; i < n; i++) column[i] /= diagonal;
    for (int k = j + 1; k < n; k++) {
      double *later = m + k * n, factor = column[k];
      for (int i = k; i < n; i++) later[i] -= factor * column[i];
    }
  }
  return true;
}

// A - x y^T - y x^T, from row and column `from` on.
CAVUM_FAST static void subtract_products(double *restrict a, int n, int from,
                                         const double *restrict x, const double *restrict y) {
  for (int k = from; k < n; k++) {
    double *column = a + k * n, of_x = x[k], of_y = y[k];
    for (int i = k; i < n; i++) column[i] -= of_x * y[i] + of_y * x[i];
  }
}

static void add_multiple(double *restrict x, double factor, const double *restrict y, int from,
                         int n) {
  for (int i = from; i < n; i++) x[i] += factor * y[i];
}

// A becomes L^-1 A L^-T, one column after the other.
CAVUM_FAST static void reduce_to_standard(double *restrict a, const double *restrict l, int n) {
  for (int k = 0; k < n; k++) {
    double *column = a + k * n;
    const double *of_l = l + k * n;
    column[k] /= of_l[k] * of_l[k];
    for (int i = k + 1; i < n; i++) column[i] /= of_l[k];
    add_multiple(column, -0.5 * column[k], of_l, k + 1, n);
    subtract_products(a, n, k + 1, column, of_l);
    add_multiple(column, -0.5 * column[k], of_l, k + 1, n);
    for (int j = k + 1; j < n; j++) {
      column[j] /= l[j * n + j];
      add_multiple(column, -column[j], l + j * n, j + 1, n);
    }
  }
}

// y = A x from row `from` on.
CAVUM_FAST static void multiply(double *restrict y, const double *restrict a,
                                const double *restrict x, int from, int n) {
  for (int i = from; i < n; i++) y[i] = 0.0;
  for (int k = from; k < n; k++) {
    const double *column = a + k * n;
    double sum = column[k] * x[k], factor = x[k];
    for (int i = k + 1; i < n; i++) {
      y[i] += factor * column[i];
      sum += column[i] * x[i];
    }
    y[k] += sum;
  }
}

static double product(const double *restrict x, const double *restrict y, int from, int n) {
  double sum = 0.0;
  for (int i = from; i < n; i++) sum += x[i] * y[i];
  return sum;
}

// The reflection H = 1 - tau v v^T that leaves of a vector its first element alone, which it gives:
// x becomes v.
static double make_reflection(double *restrict x, double *tau, int from, int n) {
  double rest = product(x, x, from + 1, n), first = x[from];
  *tau = 0.0;
  x[from] = 1.0;
  if (rest == 0.0) return first;
  double left = -copysign(sqrt(first * first + rest), first);
  *tau = (left - first) / left;
  for (int i = from + 1; i < n; i++) x[i] /= first - left;
  return left;
}

// A becomes tridiagonal by reflections from both sides; their vectors stay in its columns.
static void reduce_to_tridiagonal(double *restrict a, double *restrict diagonal,
                                  double *restrict beside, double *restrict tau, int n,
                                  double *restrict w) {
  for (int k = 0; k < n; k++) {
    double *v = a + k * n;
    diagonal[k] = v[k];
    if (k + 1 == n) return;
    beside[k] = make_reflection(v, &tau[k], k + 1, n);
    if (tau[k] == 0.0) continue;
    multiply(w, a, v, k + 1, n);
    double part = 0.5 * tau[k] * tau[k] * product(w, v, k + 1, n);
    for (int i = k + 1; i < n; i++) w[i] = tau[k] * w[i] - part * v[i];
    subtract_products(a, n, k + 1, v, w);
  }
}

// The product of the reflections.
CAVUM_FAST static void multiply_reflections(double *restrict q, const double *restrict a,
                                            const double *restrict tau, int n) {
  memset(q, 0, (size_t)n * (size_t)n * sizeof *q);
  for (int i = 0; i < n; i++) q[i * n + i] = 1.0;
  for (int k = n - 2; k >= 0; k--) {
    const double *v = a + k * n;
    for (int j = k + 1; j < n; j++) {
      double *column = q + j * n;
      add_multiple(column, -tau[k] * product(column, v, k + 1, n), v, k + 1, n);
    }
  }
}

// x = L^-T z for all columns.
CAVUM_FAST static void substitute_back(double *restrict x, const double *restrict z,
                                       const double *restrict l, int n) {
  for (int j = 0; j < n; j++) {
    double *to = x + j * n;
    const double *from = z + j * n;
    for (int k = n - 1; k >= 0; k--) {
      to[k] = (from[k] - product(to, l + k * n, k + 1, n)) / l[k * n + k];
    }
  }
}

bool cavum_small_eigen(double *restrict a, double *restrict m, double *restrict value, int order,
                       double *restrict work) {
  int n = order, info;
  double *q = work, *beside = q + n * n, *tau = beside + n, *rest = tau + n;
  if (n == 0) return true;
  if (!factorise(m, n)) return false;
  reduce_to_standard(a, m, n);
  reduce_to_tridiagonal(a, value, beside, tau, n, rest);
  multiply_reflections(q, a, tau, n);
  dsteqr_("V", &n, value, beside, q, &n, rest, &info, 1);
  if (info != 0) return false;
  substitute_back(a, q, m, n);
  return true;
}
