// SPDX-License-Identifier: GPL-3.0-or-later
// K - shift M of one element. On a quadrilateral with functions N_i(xi) N_j(eta) the quadrature sum
// is factorised: first over eta for each xi point, giving tables over the pairs (j, l), then over xi.
// Pairs (i, k) and (j, l) of the symmetric parts are packed; the mixed derivative part is not
// symmetric in each direction alone and keeps all pairs.
#include "element_matrix.h"

#include <string.h>

#include "base.h"
#include "fast.h"

static size_t product(int a, int b) { return (size_t)a * (size_t)b; }

int64_t cavum_element_matrix_scratch(const cavum_reference *ref) {
  int64_t pairs = ref->num_pairs, all = (int64_t)ref->n * ref->n, q = ref->q;
  int64_t quad = q * (2 * pairs + all) + pairs * pairs + all * all;
  int64_t triangle = 3 * (int64_t)ref->triangle_points * ref->triangle_shapes;
  return quad > triangle ? quad : triangle;
}

// out[a][b] = sum_k left[k][a] right[k][b], shapes [inner][rows], [inner][columns].
CAVUM_FAST static void multiply_kernel(double *restrict out, const double *restrict left,
                                       const double *restrict right, int rows, int columns,
                                       int inner) {
  for (int a = 0; a < rows; a++) {
    double *restrict row = out + (size_t)a * (size_t)columns;
    for (int b = 0; b < columns; b++) row[b] = 0.0;
    for (int k = 0; k < inner; k++) {
      double factor = left[k * rows + a];
      const double *restrict from = right + (size_t)k * (size_t)columns;
      for (int b = 0; b < columns; b++) row[b] += factor * from[b];
    }
  }
}

// Tables after the sum over eta, for every xi point: first[i][pair], second[i][pair], mixed[i][all].
typedef struct eta_sums {
  double *first, *second, *mixed;
} eta_sums;

CAVUM_FAST static void sum_over_eta(eta_sums sums, const cavum_reference *ref,
                                    const double *coeff, double shift, bool has_mixed) {
  int q = ref->q, pairs = ref->num_pairs, all = ref->n * ref->n, count = q * q;
  const double *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count, *mass = g22 + count;
  memset(sums.first, 0, product(q, 2 * pairs + all) * sizeof(double));
  for (int j = 0; j < q; j++) {
    const double *vv = ref->value_value + j * pairs, *dd = ref->derivative_derivative + j * pairs;
    const double *vd = ref->value_derivative + j * all;
    for (int i = 0; i < q; i++) {
      int at = j * q + i;
      double *first = sums.first + i * pairs, *second = sums.second + i * pairs;
      double a = g11[at], b = g22[at], m = -shift * mass[at];
      for (int k = 0; k < pairs; k++) {
        first[k] += a * vv[k];
        second[k] += b * dd[k] + m * vv[k];
      }
      if (!has_mixed) continue;
      double *mixed = sums.mixed + i * all, c = g12[at];
      for (int k = 0; k < all; k++) mixed[k] += c * vd[k];
    }
  }
}

// Two packed tables into one: even[ik][jl] = sum_xi N_i'N_k' first + N_i N_k second.
CAVUM_FAST static void sum_even_over_xi(double *restrict even, const cavum_reference *ref,
                                        eta_sums sums) {
  int pairs = ref->num_pairs;
  for (int ik = 0; ik < pairs; ik++) {
    double *restrict row = even + (size_t)ik * (size_t)pairs;
    for (int jl = 0; jl < pairs; jl++) row[jl] = 0.0;
    for (int i = 0; i < ref->q; i++) {
      double d = ref->derivative_derivative[i * pairs + ik], v = ref->value_value[i * pairs + ik];
      const double *restrict first = sums.first + i * pairs;
      const double *restrict second = sums.second + i * pairs;
      for (int jl = 0; jl < pairs; jl++) row[jl] += d * first[jl] + v * second[jl];
    }
  }
}

static void collect_quad(double *A, const cavum_reference *ref, const double *even,
                         const double *mixed, const double *sign) {
  int n = ref->n, all = n * n, pairs = ref->num_pairs;
  for (int a = 0; a < all; a++) {
    int i = ref->quad_i[a], j = ref->quad_j[a];
    for (int b = 0; b <= a; b++) {
      int k = ref->quad_i[b], l = ref->quad_j[b];
      double sum = even[cavum_reference_pair(i, k) * pairs + cavum_reference_pair(j, l)];
      if (mixed) sum += mixed[(i * n + k) * all + j * n + l] + mixed[(k * n + i) * all + l * n + j];
      A[a * all + b] = A[b * all + a] = sign[a] * sign[b] * sum;
    }
  }
}

static void quad_matrix(double *A, const cavum_reference *ref, const double *coeff, double shift,
                        const double *sign, double *scratch) {
  int q = ref->q, pairs = ref->num_pairs, all = ref->n * ref->n;
  eta_sums sums = {scratch, scratch + q * pairs, scratch + 2 * q * pairs};
  double *even = sums.mixed + q * all, *mixed = even + pairs * pairs;
  bool has_mixed = false;
  for (int i = 0; i < q * q && !has_mixed; i++) {
    has_mixed = fabs(coeff[q * q + i]) > 1e-15 * (coeff[i] + coeff[2 * q * q + i]);
  }
  sum_over_eta(sums, ref, coeff, shift, has_mixed);
  sum_even_over_xi(even, ref, sums);
  if (has_mixed) multiply_kernel(mixed, ref->derivative_value, sums.mixed, all, all, q);
  collect_quad(A, ref, even, has_mixed ? mixed : NULL, sign);
}

// Triangles: A = sum over points of (D_xi, D_eta)^T G (D_xi, D_eta) - shift V^T m V.
static void triangle_matrix(double *A, const cavum_reference *ref, const double *coeff,
                            double shift, const double *sign, double *scratch) {
  int points = ref->triangle_points, s = ref->triangle_shapes;
  double *first = scratch, *second = first + points * s, *third = second + points * s;
  for (int i = 0; i < points; i++) {
    double g11 = coeff[i], g12 = coeff[points + i], g22 = coeff[2 * points + i];
    double mass = -shift * coeff[3 * points + i];
    const double *dx = ref->triangle_d_xi + i * s, *dy = ref->triangle_d_eta + i * s;
    const double *value = ref->triangle_value + i * s;
    for (int a = 0; a < s; a++) {
      first[i * s + a] = g11 * dx[a] + g12 * dy[a];
      second[i * s + a] = g12 * dx[a] + g22 * dy[a];
      third[i * s + a] = mass * value[a];
    }
  }
  memset(A, 0, product(s, s) * sizeof *A);
  const double *left[3] = {ref->triangle_d_xi, ref->triangle_d_eta, ref->triangle_value};
  const double *right[3] = {first, second, third};
  for (int part = 0; part < 3; part++) {
    for (int i = 0; i < points; i++) {
      for (int a = 0; a < s; a++) {
        double factor = left[part][i * s + a];
        for (int b = 0; b < s; b++) A[a * s + b] += factor * right[part][i * s + b];
      }
    }
  }
  for (int a = 0; a < s; a++) {
    for (int b = 0; b <= a; b++) {
      double mean = 0.5 * (A[a * s + b] + A[b * s + a]) * sign[a] * sign[b];
      A[a * s + b] = A[b * s + a] = mean;
    }
  }
}

static void add_edge_matrix(double *A, const cavum_reference *ref, const cavum_edge_term *term,
                            int corners, int shapes, const double *orientation) {
  int n = ref->n, index[CAVUM_DEGREE_MOST + 1];
  index[0] = term->local;
  index[1] = (term->local + 1) % corners;
  for (int k = 2; k < n; k++) index[k] = corners + term->local * (n - 2) + k - 2;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < n; k++) {
      double sum = 0.0;
      for (int at = 0; at < ref->q; at++) {
        sum += term->coeff[at] * ref->value[at * n + i] * ref->value[at * n + k];
      }
      A[index[i] * shapes + index[k]] += orientation[index[i]] * orientation[index[k]] * sum;
    }
  }
}

void cavum_element_matrix(double *A, const cavum_discretisation *d, cavum_index e,
                          double shift_per_m2, double *scratch) {
  const cavum_reference *ref = d->reference;
  int corners = d->mesh->elements[e].num_corners;
  int shapes = cavum_shape_count(corners, ref->degree);
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double orientation[CAVUM_SHAPES_MOST], sign[CAVUM_SHAPES_MOST];
  for (int a = 0; a < shapes; a++) orientation[a] = 1.0;
  cavum_space_skeleton(index, orientation, &d->space, e);
  const double *coeff = cavum_discretisation_coeff(d, e);
  if (corners == 4) {
    for (int a = 0; a < shapes; a++) sign[a] = ref->quad_sign[a] * orientation[a];
    quad_matrix(A, ref, coeff, shift_per_m2, sign, scratch);
  } else {
    triangle_matrix(A, ref, coeff, shift_per_m2, orientation, scratch);
  }
  for (cavum_index t = d->first_edge_term[e]; t < d->first_edge_term[e + 1]; t++) {
    add_edge_matrix(A, ref, &d->edge_terms[t], corners, shapes, orientation);
  }
}
