// SPDX-License-Identifier: GPL-3.0-or-later
// K - shift M of one element. On a quadrilateral with functions N_i(xi) N_j(eta) the quadrature sum
// is factorised: first over eta for each xi point, giving tables over the pairs (j, l), then over
// xi. Pairs (i, k) and (j, l) of the symmetric parts are packed; the mixed derivative part is not
// symmetric in each direction alone and keeps all pairs.
#include "element_matrix.h"

#include <cblas.h>
#include <string.h>

#include "base.h"
#include "fast.h"

static size_t product(int a, int b) { return (size_t)a * (size_t)b; }

int64_t cavum_element_matrix_scratch(const cavum_reference *ref) {
  int64_t pairs = ref->num_pairs, all = (int64_t)ref->n * ref->n, q = ref->q;
  int64_t quad = q * (2 * pairs + all) + pairs * pairs + all * all;
  int64_t shapes = ref->triangle_shapes;
  int64_t triangle = 3 * (int64_t)ref->triangle_points * shapes + shapes * shapes;
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

// Tables after the sum over eta, for every xi point: first[i][pair], second[i][pair],
// mixed[i][all].
typedef struct eta_sums {
  double *first, *second, *mixed;
} eta_sums;

CAVUM_FAST static void sum_over_eta(eta_sums sums, const cavum_reference *ref, const double *coeff,
                                    double shift, bool has_mixed) {
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

// Gathers the lower triangle, column by column, through the places that the reference lists.
CAVUM_FAST static void collect_quad(double *restrict A, const cavum_reference *ref,
                                    const double *restrict even, const double *restrict mixed) {
  int all = ref->n * ref->n;
  const cavum_gather *place = ref->gather;
  for (int b = 0; b < all; b++) {
    double *restrict column = A + (size_t)b * (size_t)all;
    if (mixed) {
      for (int a = b; a < all; a++, place++) {
        column[a] = even[place->even] + mixed[place->mixed] + mixed[place->transposed];
      }
    } else {
      for (int a = b; a < all; a++, place++) column[a] = even[place->even];
    }
  }
}

static void quad_matrix(double *A, const cavum_reference *ref, const double *coeff, double shift,
                        double *scratch) {
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
  collect_quad(A, ref, even, has_mixed ? mixed : NULL);
}

// Row or column of a local function: interior functions come first.
static int permuted(int a, int skeleton, int all) {
  return a < skeleton ? a + all - skeleton : a - skeleton;
}

// Triangles: A = sum over points of (D_xi, D_eta)^T G (D_xi, D_eta) - shift V^T m V.
static void triangle_matrix(double *A, const cavum_reference *ref, const double *coeff,
                            double shift, double *scratch) {
  int points = ref->triangle_points, s = ref->triangle_shapes, skeleton = 3 * ref->degree;
  double *first = scratch, *second = first + points * s, *third = second + points * s;
  double *full = third + points * s;
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
  const double *left[3] = {ref->triangle_d_xi, ref->triangle_d_eta, ref->triangle_value};
  for (int part = 0; part < 3; part++) {
    cblas_dgemm(CblasRowMajor, CblasTrans, CblasNoTrans, s, s, points, 1.0, left[part], s,
                first + (size_t)part * product(points, s), s, part == 0 ? 0.0 : 1.0, full, s);
  }
  for (int b = 0; b < s; b++) {
    double *column = A + product(permuted(b, skeleton, s), s);
    for (int a = 0; a < s; a++) {
      column[permuted(a, skeleton, s)] = 0.5 * (full[a * s + b] + full[b * s + a]);
    }
  }
}

static void add_edge_matrix(double *A, const cavum_reference *ref, const cavum_edge_term *term,
                            int corners, int shapes) {
  int n = ref->n, place[CAVUM_DEGREE_MOST + 1], interior = shapes - corners * ref->degree;
  double sign[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < n; k++) {
    int a = cavum_shape_on_edge(corners, ref->degree, term->local, k);
    place[k] = interior + a;
    sign[k] = corners == 4 ? ref->quad_sign[a] : 1.0;
  }
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < n; k++) {
      if (place[i] < place[k]) continue;  // lower triangle
      double sum = 0.0;
      for (int at = 0; at < ref->q; at++) {
        sum += term->coeff[at] * ref->value[at * n + i] * ref->value[at * n + k];
      }
      A[product(place[k], shapes) + (size_t)place[i]] += sign[i] * sign[k] * sum;
    }
  }
}

void cavum_element_matrix(double *A, const cavum_discretisation *d, cavum_index e,
                          double shift_per_m2, double *scratch) {
  const cavum_reference *ref = d->reference;
  int corners = d->mesh->elements[e].num_corners;
  int shapes = cavum_shape_count(corners, ref->degree);
  const double *coeff = cavum_discretisation_coeff(d, e);
  if (corners == 4) {
    quad_matrix(A, ref, coeff, shift_per_m2, scratch);
  } else {
    triangle_matrix(A, ref, coeff, shift_per_m2, scratch);
  }
  for (cavum_index t = d->first_edge_term[e]; t < d->first_edge_term[e + 1]; t++) {
    add_edge_matrix(A, ref, &d->edge_terms[t], corners, shapes);
  }
}
