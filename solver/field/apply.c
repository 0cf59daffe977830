// SPDX-License-Identifier: GPL-3.0-or-later
// The products K x and M x, element by element. Quadrilaterals are sum-factorised: values (and
// derivatives) of the function at the quadrature points, times the coefficients, and back.
#include <string.h>

#include "base.h"
#include "discretisation.h"

enum { GRID = CAVUM_POINTS_MOST * (CAVUM_POINTS_MOST + 1) };

// out[b][a] = sum_k in[b][k] table[a][k]: applies a [rows][n] table to the second index, then
// transposes are avoided by applying it to the first index in apply_first.
static void apply_second(double *out, const double *in, int count, const double *table, int rows,
                         int n) {
  for (int b = 0; b < count; b++) {
    for (int a = 0; a < rows; a++) {
      double sum = 0.0;
      for (int k = 0; k < n; k++) sum += in[b * n + k] * table[a * n + k];
      out[b * rows + a] = sum;
    }
  }
}

// out[a][b] = sum_k table[a][k] in[k][b].
static void apply_first(double *out, const double *in, int count, const double *table, int rows,
                        int n) {
  for (int a = 0; a < rows; a++) {
    for (int b = 0; b < count; b++) out[a * count + b] = 0.0;
    for (int k = 0; k < n; k++) {
      for (int b = 0; b < count; b++) out[a * count + b] += table[a * n + k] * in[k * count + b];
    }
  }
}

// out[b][k] += sum_a in[b][a] table[a][k] and out[k][b] likewise: the transposes of the above.
static void transpose_second(double *out, const double *in, int count, const double *table,
                             int rows, int n) {
  for (int b = 0; b < count; b++) {
    for (int k = 0; k < n; k++) out[b * n + k] = 0.0;
    for (int a = 0; a < rows; a++) {
      for (int k = 0; k < n; k++) out[b * n + k] += in[b * rows + a] * table[a * n + k];
    }
  }
}

static void transpose_first_add(double *out, const double *in, int count, const double *table,
                                int rows, int n) {
  for (int a = 0; a < rows; a++) {
    for (int k = 0; k < n; k++) {
      for (int b = 0; b < count; b++) out[k * count + b] += table[a * n + k] * in[a * count + b];
    }
  }
}

// Local coefficients to the tensor grid [j][i] of segment functions and back.
static void to_tensor(double *tensor, const cavum_reference *ref, const double *local) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]] = ref->quad_sign[a] * local[a];
  }
}

static void from_tensor(double *local, const cavum_reference *ref, const double *tensor) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    local[a] = ref->quad_sign[a] * tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]];
  }
}

static void quad_mass(double *y, const cavum_reference *ref, const double *coeff, const double *x) {
  double tensor[CAVUM_SHAPES_MOST], half[GRID], grid[GRID];
  int n = ref->n, q = ref->q;
  const double *mass = coeff + 3 * q * q;
  to_tensor(tensor, ref, x);
  apply_second(half, tensor, n, ref->value, q, n);
  apply_first(grid, half, q, ref->value, q, n);
  for (int i = 0; i < q * q; i++) grid[i] *= mass[i];
  memset(half, 0, sizeof half);
  transpose_first_add(half, grid, q, ref->value, q, n);
  transpose_second(tensor, half, n, ref->value, q, n);
  from_tensor(y, ref, tensor);
}

static void quad_stiffness(double *y, const cavum_reference *ref, const double *coeff,
                           const double *x) {
  double tensor[CAVUM_SHAPES_MOST], back[CAVUM_SHAPES_MOST];
  double half[GRID], d_xi[GRID], d_eta[GRID];
  int n = ref->n, q = ref->q, count = q * q;
  const double *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count;
  to_tensor(tensor, ref, x);
  apply_second(half, tensor, n, ref->derivative, q, n);
  apply_first(d_xi, half, q, ref->value, q, n);
  apply_second(half, tensor, n, ref->value, q, n);
  apply_first(d_eta, half, q, ref->derivative, q, n);
  for (int i = 0; i < count; i++) {
    double along = d_xi[i], across = d_eta[i];
    d_xi[i] = g11[i] * along + g12[i] * across;
    d_eta[i] = g12[i] * along + g22[i] * across;
  }
  memset(half, 0, sizeof half);
  transpose_first_add(half, d_xi, q, ref->value, q, n);
  transpose_second(tensor, half, n, ref->derivative, q, n);
  memset(half, 0, sizeof half);
  transpose_first_add(half, d_eta, q, ref->derivative, q, n);
  transpose_second(back, half, n, ref->value, q, n);
  for (int a = 0; a < n * n; a++) tensor[a] += back[a];
  from_tensor(y, ref, tensor);
}

static void triangle_mass(double *y, const cavum_reference *ref, const double *coeff,
                          const double *x) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  const double *mass = coeff + 3 * points;
  memset(y, 0, (size_t)shapes * sizeof *y);
  for (int i = 0; i < points; i++) {
    const double *value = ref->triangle_value + i * shapes;
    double sum = 0.0;
    for (int a = 0; a < shapes; a++) sum += value[a] * x[a];
    sum *= mass[i];
    for (int a = 0; a < shapes; a++) y[a] += value[a] * sum;
  }
}

static void triangle_stiffness(double *y, const cavum_reference *ref, const double *coeff,
                               const double *x) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  memset(y, 0, (size_t)shapes * sizeof *y);
  for (int i = 0; i < points; i++) {
    const double *dx = ref->triangle_d_xi + i * shapes, *dy = ref->triangle_d_eta + i * shapes;
    double g11 = coeff[i], g12 = coeff[points + i], g22 = coeff[2 * points + i];
    double along = 0.0, across = 0.0;
    for (int a = 0; a < shapes; a++) {
      along += dx[a] * x[a];
      across += dy[a] * x[a];
    }
    double first = g11 * along + g12 * across, second = g12 * along + g22 * across;
    for (int a = 0; a < shapes; a++) y[a] += dx[a] * first + dy[a] * second;
  }
}

// Boundary term on one edge: its trace functions are corner k, corner k + 1 and the edge functions.
static void add_edge_term(double *y, const cavum_reference *ref, const cavum_edge_term *term,
                          int corners, const double *x) {
  int n = ref->n, index[CAVUM_DEGREE_MOST + 1];
  index[0] = term->local;
  index[1] = (term->local + 1) % corners;
  for (int k = 2; k < n; k++) index[k] = corners + term->local * (n - 2) + k - 2;
  for (int i = 0; i < ref->q; i++) {
    const double *value = ref->value + i * n;
    double sum = 0.0;
    for (int k = 0; k < n; k++) sum += value[k] * x[index[k]];
    sum *= term->coeff[i];
    for (int k = 0; k < n; k++) y[index[k]] += value[k] * sum;
  }
}

static void scatter_add(double *y, const cavum_space *space, cavum_index e, const double *local) {
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  int corners = space->mesh->elements[e].num_corners;
  int skeleton = cavum_shape_count_skeleton(corners, space->degree);
  int all = cavum_shape_count(corners, space->degree);
  cavum_space_skeleton(index, sign, space, e);
  for (int a = 0; a < skeleton; a++) y[index[a]] += sign[a] * local[a];
  memcpy(y + space->first_interior[e], local + skeleton, (size_t)(all - skeleton) * sizeof *y);
}

void cavum_discretisation_apply_mass(double *y, const cavum_discretisation *d, const double *x) {
  double in[CAVUM_SHAPES_MOST], out[CAVUM_SHAPES_MOST];
  memset(y, 0, (size_t)d->space.num_skeleton * sizeof *y);
  for (cavum_index e = 0; e < d->mesh->num_elements; e++) {
    const double *coeff = cavum_discretisation_coeff(d, e);
    cavum_space_gather(in, &d->space, e, x);
    if (d->mesh->elements[e].num_corners == 4) {
      quad_mass(out, d->reference, coeff, in);
    } else {
      triangle_mass(out, d->reference, coeff, in);
    }
    scatter_add(y, &d->space, e, out);
  }
}

void cavum_discretisation_apply_stiffness(double *y, const cavum_discretisation *d,
                                          const double *x) {
  double in[CAVUM_SHAPES_MOST], out[CAVUM_SHAPES_MOST];
  memset(y, 0, (size_t)d->space.num_skeleton * sizeof *y);
  for (cavum_index e = 0; e < d->mesh->num_elements; e++) {
    const double *coeff = cavum_discretisation_coeff(d, e);
    int corners = d->mesh->elements[e].num_corners;
    cavum_space_gather(in, &d->space, e, x);
    if (corners == 4) {
      quad_stiffness(out, d->reference, coeff, in);
    } else {
      triangle_stiffness(out, d->reference, coeff, in);
    }
    for (cavum_index t = d->first_edge_term[e]; t < d->first_edge_term[e + 1]; t++) {
      add_edge_term(out, d->reference, &d->edge_terms[t], corners, in);
    }
    scatter_add(y, &d->space, e, out);
  }
}
