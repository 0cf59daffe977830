// SPDX-License-Identifier: GPL-3.0-or-later
// The products K x and M x, batch by batch. Quadrilaterals are sum-factorised: values (and
// derivatives) of the function at the quadrature points, times the coefficients, and back.
#include <string.h>

#include "base.h"
#include "discretisation.h"
#include "fast.h"

enum { SIDE = CAVUM_POINTS_MOST + 1, GRID = SIDE * SIDE };

// Work space of one batch.
typedef struct work {
  cavum_lanes x[CAVUM_SHAPES_MOST], y[CAVUM_SHAPES_MOST];  // local coefficients
  cavum_lanes tensor[GRID], half[GRID], first[GRID], second[GRID];
  cavum_lanes back[GRID];
} work;

// out[r][c] = sum_k in[r][k] t(c, k); four columns at a time.
CAVUM_FAST static void contract_last(cavum_lanes *restrict out, const cavum_lanes *restrict in,
                                     const double *t, int stride_c, int stride_k, int rows,
                                     int inner, int columns) {
  for (int r = 0; r < rows; r++, in += inner, out += columns) {
    int c = 0;
    for (; c + 3 < columns; c += 4) {
      const double *f = t + c * stride_c;
      cavum_lanes s0 = {0}, s1 = {0}, s2 = {0}, s3 = {0};
      for (int k = 0; k < inner; k++, f += stride_k) {
        cavum_lanes x = in[k];
        s0 += f[0] * x;
        s1 += f[stride_c] * x;
        s2 += f[2 * stride_c] * x;
        s3 += f[3 * stride_c] * x;
      }
      out[c] = s0;
      out[c + 1] = s1;
      out[c + 2] = s2;
      out[c + 3] = s3;
    }
    for (; c < columns; c++) {
      cavum_lanes sum = {0};
      for (int k = 0; k < inner; k++) sum += t[c * stride_c + k * stride_k] * in[k];
      out[c] = sum;
    }
  }
}

// out[r][c] = sum_k t(r, k) in[k][c]; four rows at a time.
CAVUM_FAST static void contract_first(cavum_lanes *restrict out, const cavum_lanes *restrict in,
                                      const double *t, int stride_r, int stride_k, int rows,
                                      int inner, int columns) {
  int r = 0;
  for (; r + 3 < rows; r += 4) {
    for (int c = 0; c < columns; c++) {
      const double *f = t + r * stride_r;
      cavum_lanes s0 = {0}, s1 = {0}, s2 = {0}, s3 = {0};
      for (int k = 0; k < inner; k++, f += stride_k) {
        cavum_lanes x = in[k * columns + c];
        s0 += f[0] * x;
        s1 += f[stride_r] * x;
        s2 += f[2 * stride_r] * x;
        s3 += f[3 * stride_r] * x;
      }
      out[r * columns + c] = s0;
      out[(r + 1) * columns + c] = s1;
      out[(r + 2) * columns + c] = s2;
      out[(r + 3) * columns + c] = s3;
    }
  }
  for (; r < rows; r++) {
    for (int c = 0; c < columns; c++) {
      cavum_lanes sum = {0};
      for (int k = 0; k < inner; k++) sum += t[r * stride_r + k * stride_k] * in[k * columns + c];
      out[r * columns + c] = sum;
    }
  }
}

// Grid [eta][xi] of point values from coefficients [j][i].
static void to_points(cavum_lanes *grid, work *w, const cavum_reference *ref, const double *xi,
                      const double *eta) {
  contract_last(w->half, w->tensor, xi, ref->n, 1, ref->n, ref->n, ref->q);
  contract_first(grid, w->half, eta, ref->n, 1, ref->q, ref->n, ref->q);
}

// The transpose of to_points().
static void from_points(cavum_lanes *tensor, work *w, const cavum_lanes *grid,
                        const cavum_reference *ref, const double *xi, const double *eta) {
  contract_first(w->half, grid, eta, 1, ref->n, ref->n, ref->q, ref->q);
  contract_last(tensor, w->half, xi, 1, ref->n, ref->n, ref->q, ref->n);
}

static void to_tensor(work *w, const cavum_reference *ref) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    w->tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]] = w->x[a];
  }
}

static void from_tensor(work *w, const cavum_reference *ref, const cavum_lanes *tensor) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    w->y[a] = tensor[ref->quad_j[a] * ref->n + ref->quad_i[a]];
  }
}

CAVUM_FAST static void scale(cavum_lanes *restrict grid, const cavum_lanes *restrict by,
                             int count) {
  for (int i = 0; i < count; i++) grid[i] *= by[i];
}

// (first, second) = G (first, second) at every point.
CAVUM_FAST static void turn(cavum_lanes *restrict first, cavum_lanes *restrict second,
                            const cavum_lanes *restrict coeff, int count) {
  const cavum_lanes *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count;
  for (int i = 0; i < count; i++) {
    cavum_lanes along = first[i], across = second[i];
    first[i] = g11[i] * along + g12[i] * across;
    second[i] = g12[i] * along + g22[i] * across;
  }
}

static void quad_mass(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  int count = ref->q * ref->q;
  to_tensor(w, ref);
  to_points(w->first, w, ref, ref->value, ref->value);
  scale(w->first, coeff + 3 * count, count);
  from_points(w->tensor, w, w->first, ref, ref->value, ref->value);
  from_tensor(w, ref, w->tensor);
}

static void quad_stiffness(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  to_tensor(w, ref);
  to_points(w->first, w, ref, ref->derivative, ref->value);
  to_points(w->second, w, ref, ref->value, ref->derivative);
  turn(w->first, w->second, coeff, ref->q * ref->q);
  from_points(w->tensor, w, w->first, ref, ref->derivative, ref->value);
  from_points(w->back, w, w->second, ref, ref->value, ref->derivative);
  for (int i = 0; i < ref->n * ref->n; i++) w->tensor[i] += w->back[i];
  from_tensor(w, ref, w->tensor);
}

static void triangle_mass(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  contract_last(w->first, w->x, ref->triangle_value, shapes, 1, 1, shapes, points);
  scale(w->first, coeff + 3 * points, points);
  contract_last(w->y, w->first, ref->triangle_value, 1, shapes, 1, points, shapes);
}

static void triangle_stiffness(work *w, const cavum_reference *ref, const cavum_lanes *coeff) {
  int points = ref->triangle_points, shapes = ref->triangle_shapes;
  contract_last(w->first, w->x, ref->triangle_d_xi, shapes, 1, 1, shapes, points);
  contract_last(w->second, w->x, ref->triangle_d_eta, shapes, 1, 1, shapes, points);
  turn(w->first, w->second, coeff, points);
  contract_last(w->y, w->first, ref->triangle_d_xi, 1, shapes, 1, points, shapes);
  contract_last(w->back, w->second, ref->triangle_d_eta, 1, shapes, 1, points, shapes);
  for (int a = 0; a < shapes; a++) w->y[a] += w->back[a];
}

// Boundary term on one edge: its trace functions are corner k, corner k + 1 and the edge functions.
static void add_edge_term(work *w, const cavum_reference *ref, const cavum_edge_term *term,
                          int corners) {
  int n = ref->n, index[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < n; k++) {
    index[k] = cavum_shape_on_edge(corners, ref->degree, term->local, k);
    sign[k] = corners == 4 ? ref->quad_sign[index[k]] : 1.0;
  }
  for (int i = 0; i < ref->q; i++) {
    const double *value = ref->value + i * n;
    double sum = 0.0;
    for (int k = 0; k < n; k++) sum += sign[k] * value[k] * w->x[index[k]][term->lane];
    sum *= term->coeff[i];
    for (int k = 0; k < n; k++) w->y[index[k]][term->lane] += sign[k] * value[k] * sum;
  }
}

static void gather(work *w, const cavum_discretisation *d, const cavum_batch *batch,
                   const double *x) {
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  int all = cavum_shape_count(batch->num_corners, d->reference->degree);
  for (int a = 0; a < all; a++) {
    const cavum_index *index = d->index[batch->first_index + a];
    for (int l = 0; l < CAVUM_LANES; l++) w->x[a][l] = x[index[l]];
    if (a < skeleton) w->x[a] *= d->sign[batch->first_sign + a];
  }
}

static void scatter_add(double *y, work *w, const cavum_discretisation *d,
                        const cavum_batch *batch) {
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  int all = cavum_shape_count(batch->num_corners, d->reference->degree);
  for (int a = 0; a < all; a++) {
    const cavum_index *index = d->index[batch->first_index + a];
    if (a < skeleton) {
      w->y[a] *= d->sign[batch->first_sign + a];
      for (int l = 0; l < batch->count; l++) y[index[l]] += w->y[a][l];
    } else {
      for (int l = 0; l < batch->count; l++) y[index[l]] = w->y[a][l];
    }
  }
}

void cavum_discretisation_apply_mass(double *y, const cavum_discretisation *d, const double *x) {
  work w;
  memset(y, 0, (size_t)d->space.num_skeleton * sizeof *y);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    const cavum_lanes *coeff = d->coeff + batch->first_coeff;
    gather(&w, d, batch, x);
    if (batch->num_corners == 4) {
      quad_mass(&w, d->reference, coeff);
    } else {
      triangle_mass(&w, d->reference, coeff);
    }
    scatter_add(y, &w, d, batch);
  }
}

void cavum_discretisation_apply_stiffness(double *y, const cavum_discretisation *d,
                                          const double *x) {
  work w;
  memset(y, 0, (size_t)d->space.num_skeleton * sizeof *y);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    const cavum_lanes *coeff = d->coeff + batch->first_coeff;
    gather(&w, d, batch, x);
    if (batch->num_corners == 4) {
      quad_stiffness(&w, d->reference, coeff);
    } else {
      triangle_stiffness(&w, d->reference, coeff);
    }
    for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
      add_edge_term(&w, d->reference, &d->edge_terms[t], batch->num_corners);
    }
    scatter_add(y, &w, d, batch);
  }
}
