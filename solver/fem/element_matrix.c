// SPDX-License-Identifier: GPL-3.0-or-later
// K - shift M of a batch of elements. On quadrilaterals with functions N_i(xi) N_j(eta) the
// quadrature sum is factorised: first over eta for each xi point, giving tables over the pairs
// (j, l), then over xi. Pairs (i, k) and (j, l) of the symmetric parts are packed; the mixed
// derivative part is not symmetric in each direction alone and keeps all pairs (j, l).
#include "fem/element_matrix.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"

int64_t cavum_element_matrix_scratch(const cavum_reference *ref) {
  int64_t quad = (int64_t)ref->q * (2 * ref->num_pairs + ref->n * ref->n);
  int64_t triangle = 3 * (int64_t)ref->triangle_points;
  return quad > triangle ? quad : triangle;
}

// Tables after the sum over eta, for every xi point: first[pair][xi], second[pair][xi],
// mixed[j n + l][xi].
typedef struct eta_sums {
  cavum_lanes *first, *second, *mixed;
} eta_sums;

// The coefficients of one xi point as [eta], gathered so that the sums run through them in order.
typedef struct xi_column {
  cavum_lanes g11[CAVUM_POINTS_MOST], g22[CAVUM_POINTS_MOST], mass[CAVUM_POINTS_MOST];
  cavum_lanes g12[CAVUM_POINTS_MOST];
} xi_column;

CAVUM_FAST static void sum_pairs_over_eta(eta_sums sums, const cavum_reference *ref,
                                          const xi_column *c, int x) {
  int q = ref->q;
  for (int pair = 0; pair < ref->num_pairs; pair += 2) {
    // The last pair of an odd count is computed twice.
    int other = pair + 1 < ref->num_pairs ? pair + 1 : pair;
    const double *v0 = ref->value_value + pair * q, *v1 = ref->value_value + other * q;
    const double *d0 = ref->derivative_derivative + pair * q;
    const double *d1 = ref->derivative_derivative + other * q;
    cavum_sum first0 = {0}, first1 = {0}, second0 = {0}, second1 = {0};
    for (int y = 0; y < q; y++) {
      cavum_sum_add(&first0, v0[y], &c->g11[y]);
      cavum_sum_add(&first1, v1[y], &c->g11[y]);
      cavum_sum_add(&second0, v0[y], &c->mass[y]);
      cavum_sum_add(&second1, v1[y], &c->mass[y]);
      cavum_sum_add(&second0, d0[y], &c->g22[y]);
      cavum_sum_add(&second1, d1[y], &c->g22[y]);
    }
    cavum_sum_store(&sums.first[pair * q + x], &first0);
    cavum_sum_store(&sums.first[other * q + x], &first1);
    cavum_sum_store(&sums.second[pair * q + x], &second0);
    cavum_sum_store(&sums.second[other * q + x], &second1);
  }
}

CAVUM_FAST static void sum_mixed_over_eta(eta_sums sums, const cavum_reference *ref,
                                          const xi_column *c, int x) {
  int q = ref->q, n = ref->n;
  for (int j = 0; j < n; j++) {
    for (int l = 0; l < n; l += 3) {
      int l1 = l + 1 < n ? l + 1 : l, l2 = l + 2 < n ? l + 2 : l;
      const double *t0 = ref->value_derivative_all + (j * n + l) * q;
      const double *t1 = ref->value_derivative_all + (j * n + l1) * q;
      const double *t2 = ref->value_derivative_all + (j * n + l2) * q;
      cavum_sum s0 = {0}, s1 = {0}, s2 = {0};
      for (int y = 0; y < q; y++) {
        cavum_sum_add(&s0, t0[y], &c->g12[y]);
        cavum_sum_add(&s1, t1[y], &c->g12[y]);
        cavum_sum_add(&s2, t2[y], &c->g12[y]);
      }
      cavum_sum_store(&sums.mixed[(j * n + l) * q + x], &s0);
      cavum_sum_store(&sums.mixed[(j * n + l1) * q + x], &s1);
      cavum_sum_store(&sums.mixed[(j * n + l2) * q + x], &s2);
    }
  }
}

static void sum_over_eta(eta_sums sums, const cavum_reference *ref, const cavum_lanes *coeff,
                         double shift, bool has_mixed) {
  int q = ref->q, count = q * q;
  const cavum_lanes *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count, *mass = g22 + count;
  xi_column c;
  for (int x = 0; x < q; x++) {
    for (int y = 0; y < q; y++) {
      int at = y * q + x;
      c.g11[y] = g11[at];
      c.g22[y] = g22[at];
      c.mass[y] = -shift * mass[at];
      if (has_mixed) c.g12[y] = g12[at];
    }
    sum_pairs_over_eta(sums, ref, &c, x);
    if (has_mixed) sum_mixed_over_eta(sums, ref, &c, x);
  }
}

static inline void store_pair(cavum_lanes *A, const cavum_pair_place *place, const cavum_sum *sum) {
  cavum_sum_store(&A[place->same], sum);
  cavum_sum_store(&A[place->crossed], sum);
}

// A[same] = A[crossed] = sum_xi N_i'N_k' first + N_i N_k second.
CAVUM_FAST static void sum_even_over_xi(cavum_lanes *restrict A, const cavum_reference *ref,
                                        eta_sums sums, int ik) {
  int pairs = ref->num_pairs, q = ref->q;
  const double *d = ref->derivative_derivative + ik * q, *v = ref->value_value + ik * q;
  const cavum_pair_place *place = ref->place + (size_t)ik * (size_t)pairs;
  for (int jl = 0; jl < pairs; jl += 4) {
    int at[4];
    for (int m = 0; m < 4; m++) at[m] = jl + m < pairs ? jl + m : jl;
    const cavum_lanes *f0 = sums.first + at[0] * q, *s0 = sums.second + at[0] * q;
    const cavum_lanes *f1 = sums.first + at[1] * q, *s1 = sums.second + at[1] * q;
    const cavum_lanes *f2 = sums.first + at[2] * q, *s2 = sums.second + at[2] * q;
    const cavum_lanes *f3 = sums.first + at[3] * q, *s3 = sums.second + at[3] * q;
    cavum_sum a0 = {0}, a1 = {0}, a2 = {0}, a3 = {0};
    for (int x = 0; x < q; x++) {
      cavum_sum_add(&a0, d[x], &f0[x]);
      cavum_sum_add(&a1, d[x], &f1[x]);
      cavum_sum_add(&a2, d[x], &f2[x]);
      cavum_sum_add(&a3, d[x], &f3[x]);
      cavum_sum_add(&a0, v[x], &s0[x]);
      cavum_sum_add(&a1, v[x], &s1[x]);
      cavum_sum_add(&a2, v[x], &s2[x]);
      cavum_sum_add(&a3, v[x], &s3[x]);
    }
    store_pair(A, &place[at[3]], &a3);
    store_pair(A, &place[at[2]], &a2);
    store_pair(A, &place[at[1]], &a1);
    store_pair(A, &place[at[0]], &a0);
  }
}

static inline void add_sums(cavum_lanes *to, const cavum_sum *a, const cavum_sum *b) {
  cavum_half *halves = (cavum_half *)to;
  halves[0] += a->low + b->low;
  halves[1] += a->high + b->high;
}

// Adds sum_xi N_i' N_k mixed[j l] + N_i N_k' mixed[l j] to A[same] and the same with j and l
// exchanged to A[crossed]; the two are one entry when i = k or j = l.
CAVUM_FAST static void add_mixed_over_xi(cavum_lanes *restrict A, const cavum_reference *ref,
                                         eta_sums sums, int ik) {
  int n = ref->n, q = ref->q, jl = 0;
  const double *d = ref->derivative_value + ik * q, *v = ref->value_derivative + ik * q;
  const cavum_pair_place *place = ref->place + (size_t)ik * (size_t)ref->num_pairs;
  for (int j = 0; j < n; j++) {
    for (int l = 0; l <= j; l++, jl++) {
      const cavum_lanes *m0 = sums.mixed + (j * n + l) * q, *m1 = sums.mixed + (l * n + j) * q;
      cavum_sum a0 = {0}, a1 = {0}, b0 = {0}, b1 = {0};
      for (int x = 0; x < q; x++) {
        cavum_sum_add(&a0, d[x], &m0[x]);
        cavum_sum_add(&a1, d[x], &m1[x]);
        cavum_sum_add(&b0, v[x], &m1[x]);
        cavum_sum_add(&b1, v[x], &m0[x]);
      }
      add_sums(&A[place[jl].same], &a0, &b0);
      if (place[jl].crossed != place[jl].same) add_sums(&A[place[jl].crossed], &a1, &b1);
    }
  }
}

static void quad_matrices(cavum_lanes *A, const cavum_reference *ref, const cavum_lanes *coeff,
                          bool has_mixed, double shift, cavum_lanes *scratch) {
  int table = ref->q * ref->num_pairs;
  eta_sums sums = {scratch, scratch + table, scratch + 2 * table};
  sum_over_eta(sums, ref, coeff, shift, has_mixed);
  // One part after the other: their tables do not fit the nearest cache together.
  for (int ik = 0; ik < ref->num_pairs; ik++) sum_even_over_xi(A, ref, sums, ik);
  for (int ik = 0; has_mixed && ik < ref->num_pairs; ik++) add_mixed_over_xi(A, ref, sums, ik);
}

// out[a] += sum_k t[a][k] in[k] for the rows first .. rows, or = with `begin`; four at a time.
CAVUM_FAST static void multiply_rows(cavum_lanes *restrict out, const double *restrict t,
                                     int stride, const cavum_lanes *restrict in, int first,
                                     int rows, int inner, bool begin) {
  for (int a = first; a < rows; a += 4) {
    const double *f[4];
    cavum_sum s[4] = {{{0}, {0}}};
    // Rows beyond the last are computed twice.
    for (int m = 0; m < 4; m++) f[m] = t + (size_t)(a + m < rows ? a + m : a) * (size_t)stride;
    for (int k = 0; k < inner; k++) {
      cavum_sum_add(&s[0], f[0][k], &in[k]);
      cavum_sum_add(&s[1], f[1][k], &in[k]);
      cavum_sum_add(&s[2], f[2][k], &in[k]);
      cavum_sum_add(&s[3], f[3][k], &in[k]);
    }
    for (int m = 0; m < 4 && a + m < rows; m++) {
      if (!begin) cavum_sum_take(&s[m], &out[a + m]);
      cavum_sum_store(&out[a + m], &s[m]);
    }
  }
}

// Triangles: A = sum over points of (D_xi, D_eta)^T G (D_xi, D_eta) - shift V^T m V, as products of
// a table row of all three with what the coefficients make of another.
CAVUM_FAST static void fill_triangle_column(cavum_lanes *restrict in, const double *restrict row,
                                            const cavum_lanes *restrict coeff, double shift,
                                            int points) {
  const cavum_lanes *g11 = coeff, *g12 = g11 + points, *g22 = g12 + points, *mass = g22 + points;
  const double *d_xi = row, *d_eta = row + points, *value = d_eta + points;
  for (int i = 0; i < points; i++) {
    in[i] = d_xi[i] * g11[i] + d_eta[i] * g12[i];
    in[points + i] = d_xi[i] * g12[i] + d_eta[i] * g22[i];
    in[2 * points + i] = -shift * value[i] * mass[i];
  }
}

static void triangle_matrices(cavum_lanes *A, const cavum_reference *ref, const cavum_lanes *coeff,
                              double shift, cavum_lanes *scratch) {
  int shapes = ref->triangle_shapes, points = ref->triangle_points;
  for (int b = 0; b < shapes; b++) {
    const double *row = ref->triangle_rows + 3 * b * points;
    fill_triangle_column(scratch, row, coeff, shift, points);
    // Part by part, which sums fewer terms one after the other and so rounds less.
    for (int part = 0; part < 3; part++) {
      multiply_rows(A + cavum_packed_column(shapes, b), ref->triangle_rows + part * points,
                    3 * points, scratch + part * points, b, shapes, points, part == 0);
    }
  }
}

static void add_edge_matrix(cavum_lanes *A, const cavum_reference *ref, const cavum_edge_term *term,
                            int corners, int shapes) {
  int n = ref->n, q = ref->q, row[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < n; k++) {
    int a = cavum_shape_on_edge(corners, ref->degree, term->local, k);
    row[k] = cavum_reference_row(a, corners * ref->degree, shapes);
    sign[k] = corners == 4 ? ref->quad_sign[a] : 1.0;
  }
  for (int i = 0; i < n; i++) {
    for (int k = 0; k <= i; k++) {
      const double *value = ref->value_value + cavum_reference_pair(i, k) * q;
      double sum = 0.0;
      for (int at = 0; at < q; at++) sum += term->coeff[at] * value[at];
      int low = row[i] < row[k] ? row[i] : row[k], high = row[i] < row[k] ? row[k] : row[i];
      A[cavum_packed_column(shapes, low) + (size_t)high][term->lane] += sign[i] * sign[k] * sum;
    }
  }
}

void cavum_element_matrices(cavum_lanes *restrict A, const cavum_discretisation *d, cavum_index b,
                            double shift_per_m2, cavum_lanes *restrict scratch) {
  const cavum_reference *ref = d->reference;
  const cavum_batch *batch = &d->batches[b];
  int shapes = cavum_shape_count(batch->num_corners, ref->degree);
  const cavum_lanes *coeff = d->coeff + batch->first_coeff;
  if (batch->num_corners == 4) {
    quad_matrices(A, ref, coeff, batch->has_mixed, shift_per_m2, scratch);
  } else {
    triangle_matrices(A, ref, coeff, shift_per_m2, scratch);
  }
  for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
    add_edge_matrix(A, ref, &d->edge_terms[t], batch->num_corners, shapes);
  }
}
