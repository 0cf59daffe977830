// SPDX-License-Identifier: GPL-3.0-or-later
// Tables of one degree. On a parallelogram the integrands r^3 N_i N_k and r^3 N_i' N_k' have degree
// 2 p + 3 at the most in one direction, which a rule of p + 1 + CAVUM_EXTRA_POINTS = p + 2 points
// integrates exactly; on other elements its error is of a higher order than that of the space.
#include "fem/reference.h"

#include <string.h>

#include "base/base.h"
#include "fem/quadrature.h"

// Hands out consecutive pieces of one block; with a NULL block it only counts.
typedef struct pieces {
  double *block;
  size_t used;
} pieces;

static double *take(pieces *from, int count) {
  double *piece = from->block ? from->block + from->used : NULL;
  from->used += (size_t)count;
  return piece;
}

static void lay_out(cavum_reference *ref, pieces *from) {
  int q = ref->q, n = ref->n, t = ref->triangle_points, s = ref->triangle_shapes;
  ref->value = take(from, q * n);
  ref->derivative = take(from, q * n);
  ref->line_value = take(from, (q + 1) / 2 * n);
  ref->line_derivative = take(from, (q + 1) / 2 * n);
  ref->value_value = take(from, q * ref->num_pairs);
  ref->derivative_derivative = take(from, q * ref->num_pairs);
  ref->derivative_value = take(from, q * ref->num_pairs);
  ref->value_derivative = take(from, q * ref->num_pairs);
  ref->value_derivative_all = take(from, q * n * n);
  ref->triangle_xi = take(from, t);
  ref->triangle_eta = take(from, t);
  ref->triangle_weight = take(from, t);
  ref->triangle_value = take(from, t * s);
  ref->triangle_d_xi = take(from, t * s);
  ref->triangle_d_eta = take(from, t * s);
  ref->triangle_rows = take(from, 3 * t * s);
}

static void fill_segment(cavum_reference *ref) {
  int n = ref->n, q = ref->q;
  for (int point = 0; point < q; point++) {
    double *v = ref->value + point * n, *d = ref->derivative + point * n;
    cavum_shape_segment(v, d, ref->degree, ref->x[point]);
    for (int i = 0; i < n; i++) {
      for (int k = 0; k < n; k++) {
        ref->value_derivative_all[(i * n + k) * q + point] = v[i] * d[k];
        if (k > i) continue;
        int pair = cavum_reference_pair(i, k) * q + point;
        ref->value_value[pair] = v[i] * v[k];
        ref->derivative_derivative[pair] = d[i] * d[k];
        ref->derivative_value[pair] = d[i] * v[k];
        ref->value_derivative[pair] = v[i] * d[k];
      }
    }
  }
}

// The tables of line_sums.h.
static void fill_lines(cavum_reference *ref) {
  int n = ref->n, half = (ref->q + 1) / 2;
  memcpy(ref->line_value, ref->value, (size_t)(half * n) * sizeof *ref->line_value);
  memcpy(ref->line_derivative, ref->derivative, (size_t)(half * n) * sizeof *ref->line_derivative);
  for (int point = 0; point < half; point++) {
    double *v = ref->line_value + point * n, *d = ref->line_derivative + point * n;
    v[0] = 1.0;
    v[1] = ref->x[point];
    d[0] = 0.0;
    d[1] = 1.0;
  }
}

static void fill_triangle_rows(cavum_reference *ref) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes, skeleton = 3 * ref->degree;
  for (int a = 0; a < shapes; a++) {
    double *row = ref->triangle_rows + 3 * cavum_reference_row(a, skeleton, shapes) * points;
    for (int i = 0; i < points; i++) {
      row[i] = ref->triangle_d_xi[i * shapes + a];
      row[points + i] = ref->triangle_d_eta[i * shapes + a];
      row[2 * points + i] = ref->triangle_value[i * shapes + a];
    }
  }
}

// Product rule in collapsed coordinates xi = (1 + a)(1 - b)/4, eta = (1 + b)/2. The Jacobian
// vanishes with 1 - b, so the rule along b needs no point there.
static void fill_triangle(cavum_reference *ref) {
  int at = 0, shapes = ref->triangle_shapes;
  double y[CAVUM_POINTS_MOST], weight[CAVUM_POINTS_MOST];
  cavum_quadrature_radau(y, weight, ref->q);
  for (int j = 0; j < ref->q; j++) {
    for (int i = 0; i < ref->q; i++, at++) {
      ref->triangle_xi[at] = 0.25 * (1.0 + ref->x[i]) * (1.0 - y[j]);
      ref->triangle_eta[at] = 0.5 * (1.0 + y[j]);
      ref->triangle_weight[at] = ref->weight[i] * weight[j] * (1.0 - y[j]) / 8.0;
      cavum_shape_element(ref->triangle_value + at * shapes, ref->triangle_d_xi + at * shapes,
                          ref->triangle_d_eta + at * shapes, 3, ref->degree, ref->triangle_xi[at],
                          ref->triangle_eta[at]);
    }
  }
  fill_triangle_rows(ref);
}

static int32_t packed_place(int all, int a, int b) {
  int low = a < b ? a : b, high = a < b ? b : a;
  return (int32_t)(cavum_packed_column(all, low) + (size_t)high);
}

static bool fill_places(cavum_reference *ref) {
  int n = ref->n, all = n * n, row[CAVUM_SHAPES_MOST] = {0};
  for (int a = 0; a < all; a++) {
    row[ref->quad_i[a] * n + ref->quad_j[a]] = cavum_reference_row(a, 4 * ref->degree, all);
  }
  ref->place = cavum_alloc((int64_t)ref->num_pairs * ref->num_pairs, sizeof *ref->place);
  if (!ref->place) return false;
  cavum_pair_place *place = ref->place;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k <= i; k++) {
      for (int j = 0; j < n; j++) {
        for (int l = 0; l <= j; l++, place++) {
          place->same = packed_place(all, row[i * n + j], row[k * n + l]);
          place->crossed = packed_place(all, row[i * n + l], row[k * n + j]);
        }
      }
    }
  }
  return true;
}

cavum_status cavum_reference_create(cavum_reference *reference, int degree, int points,
                                    bool with_triangles, cavum_error *error) {
  if (!CAVUM_HOLDS(degree >= 1 && degree <= CAVUM_DEGREE_MOST && points <= CAVUM_POINTS_MOST))
    return cavum_fail_internal(error, "degree of the reference element");
  int usual = degree + 1 + CAVUM_EXTRA_POINTS;
  cavum_reference ref = {.degree = degree, .n = degree + 1, .q = points > 0 ? points : usual};
  ref.num_pairs = ref.n * (ref.n + 1) / 2;
  ref.triangle_points = with_triangles ? ref.q * ref.q : 0;
  ref.triangle_shapes = cavum_shape_count(3, degree);
  pieces from = {NULL, 0};
  lay_out(&ref, &from);
  from.block = ref.memory = cavum_alloc((int64_t)from.used, sizeof(double));
  if (!ref.memory) return cavum_fail_memory(error);
  from.used = 0;
  lay_out(&ref, &from);
  cavum_quadrature_gauss(ref.x, ref.weight, ref.q);
  cavum_shape_quad_products(ref.quad_i, ref.quad_j, ref.quad_sign, degree);
  if (!fill_places(&ref)) {
    cavum_reference_clear(&ref);
    return cavum_fail_memory(error);
  }
  fill_segment(&ref);
  fill_lines(&ref);
  if (with_triangles) fill_triangle(&ref);
  *reference = ref;
  return CAVUM_OK;
}

void cavum_reference_clear(cavum_reference *reference) {
  if (!reference) return;
  free(reference->memory);
  free(reference->place);
  memset(reference, 0, sizeof *reference);
}
