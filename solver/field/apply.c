// SPDX-License-Identifier: GPL-3.0-or-later
// The products K x and M x, element by element. Quadrilaterals are sum-factorised: values (and
// derivatives) of the function at the quadrature points, times the coefficients, and back.
#include <string.h>

#include "base.h"
#include "discretisation.h"
#include "fast.h"

// Rows of all small tables are padded to whole vectors of this many numbers.
enum {
  LANES = CAVUM_LANES,
  WIDE = CAVUM_PADDED_MOST,
  GRID = CAVUM_PADDED_MOST * CAVUM_PADDED_MOST
};

typedef double lanes __attribute__((vector_size(LANES * sizeof(double)), aligned(8)));

// out[r][c] = sum_k factor[r * row_stride + k * inner_stride] table[k][c] for `chunks` vectors of
// c; out and table have rows of `width` numbers. Four rows at a time, so that a row of the table is
// read once for four.
CAVUM_FAST static void multiply_rows(double *restrict out, const double *restrict factor,
                                     int row_stride, int inner_stride, const double *restrict table,
                                     int width, int rows, int inner, int chunks) {
  for (int c = 0; c < chunks * LANES; c += LANES) {
    int r = 0;
    for (; r + 3 < rows; r += 4) {
      lanes s0 = {0}, s1 = {0}, s2 = {0}, s3 = {0};
      const double *f = factor + r * row_stride;
      for (int k = 0; k < inner; k++, f += inner_stride) {
        lanes row = *(const lanes *)(table + k * width + c);
        s0 += f[0] * row;
        s1 += f[row_stride] * row;
        s2 += f[2 * row_stride] * row;
        s3 += f[3 * row_stride] * row;
      }
      *(lanes *)(out + r * width + c) = s0;
      *(lanes *)(out + (r + 1) * width + c) = s1;
      *(lanes *)(out + (r + 2) * width + c) = s2;
      *(lanes *)(out + (r + 3) * width + c) = s3;
    }
    for (; r < rows; r++) {
      lanes sum = {0};
      const double *f = factor + r * row_stride;
      for (int k = 0; k < inner; k++, f += inner_stride) {
        sum += *f * *(const lanes *)(table + k * width + c);
      }
      *(lanes *)(out + r * width + c) = sum;
    }
  }
}

static int chunks_of(int count) { return (count + LANES - 1) / LANES; }

// Local coefficients to the padded grid [j][i] of segment functions and back.
static void to_tensor(double *tensor, const cavum_reference *ref, const double *local) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    tensor[ref->quad_j[a] * WIDE + ref->quad_i[a]] = ref->quad_sign[a] * local[a];
  }
}

static void from_tensor(double *local, const cavum_reference *ref, const double *tensor) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    local[a] = ref->quad_sign[a] * tensor[ref->quad_j[a] * WIDE + ref->quad_i[a]];
  }
}

// Grid [b][a] of point values from coefficients [j][i]: along xi by one transposed table, along eta
// by another table.
static void to_points(double *grid, const double *tensor, const cavum_reference *ref,
                      const double *transposed_xi, const double *table_eta) {
  double half[GRID];
  multiply_rows(half, tensor, WIDE, 1, transposed_xi, WIDE, ref->n, ref->n, chunks_of(ref->q));
  multiply_rows(grid, table_eta, WIDE, 1, half, WIDE, ref->q, ref->n, chunks_of(ref->q));
}

// The transpose of to_points().
static void from_points(double *tensor, const double *grid, const cavum_reference *ref,
                        const double *table_xi, const double *table_eta) {
  double half[GRID];
  multiply_rows(half, table_eta, 1, WIDE, grid, WIDE, ref->n, ref->q, chunks_of(ref->q));
  multiply_rows(tensor, half, WIDE, 1, table_xi, WIDE, ref->n, ref->q, chunks_of(ref->n));
}

static void quad_mass(double *y, const cavum_reference *ref, const double *coeff, const double *x) {
  double tensor[GRID], grid[GRID];
  int q = ref->q;
  const double *mass = coeff + 3 * q * q;
  to_tensor(tensor, ref, x);
  to_points(grid, tensor, ref, ref->value_across, ref->value_padded);
  for (int b = 0; b < q; b++) {
    for (int a = 0; a < q; a++) grid[b * WIDE + a] *= mass[b * q + a];
  }
  from_points(tensor, grid, ref, ref->value_padded, ref->value_padded);
  from_tensor(y, ref, tensor);
}

static void quad_stiffness(double *y, const cavum_reference *ref, const double *coeff,
                           const double *x) {
  double tensor[GRID], back[GRID], d_xi[GRID], d_eta[GRID];
  int q = ref->q, count = q * q;
  const double *g11 = coeff, *g12 = g11 + count, *g22 = g12 + count;
  to_tensor(tensor, ref, x);
  to_points(d_xi, tensor, ref, ref->derivative_across, ref->value_padded);
  to_points(d_eta, tensor, ref, ref->value_across, ref->derivative_padded);
  for (int b = 0; b < q; b++) {
    for (int a = 0; a < q; a++) {
      int at = b * WIDE + a, point = b * q + a;
      double along = d_xi[at], across = d_eta[at];
      d_xi[at] = g11[point] * along + g12[point] * across;
      d_eta[at] = g12[point] * along + g22[point] * across;
    }
  }
  from_points(tensor, d_xi, ref, ref->derivative_padded, ref->value_padded);
  from_points(back, d_eta, ref, ref->value_padded, ref->derivative_padded);
  for (int j = 0; j < ref->n; j++) {
    for (int i = 0; i < ref->n; i++) tensor[j * WIDE + i] += back[j * WIDE + i];
  }
  from_tensor(y, ref, tensor);
}

static void evaluate_quad(double *const out[3], const cavum_reference *ref, const double *local) {
  double tensor[GRID], grid[GRID];
  const double *across[3] = {ref->value_across, ref->derivative_across, ref->value_across};
  const double *along[3] = {ref->value_padded, ref->value_padded, ref->derivative_padded};
  int q = ref->q;
  to_tensor(tensor, ref, local);
  for (int part = 0; part < 3; part++) {
    to_points(grid, tensor, ref, across[part], along[part]);
    for (int b = 0; b < q; b++)
      memcpy(out[part] + b * q, grid + b * WIDE, (size_t)q * sizeof *grid);
  }
}

static void evaluate_triangle(double *const out[3], const cavum_reference *ref,
                              const double *local) {
  int shapes = ref->triangle_shapes;
  const double *tables[3] = {ref->triangle_value, ref->triangle_d_xi, ref->triangle_d_eta};
  for (int part = 0; part < 3; part++) {
    for (int i = 0; i < ref->triangle_points; i++) {
      double sum = 0.0;
      for (int a = 0; a < shapes; a++) sum += tables[part][i * shapes + a] * local[a];
      out[part][i] = sum;
    }
  }
}

void cavum_discretisation_evaluate(double *value, double *d_xi, double *d_eta,
                                   const cavum_discretisation *d, cavum_index e,
                                   const double *local) {
  double *const out[3] = {value, d_xi, d_eta};
  if (d->mesh->elements[e].num_corners == 4) {
    evaluate_quad(out, d->reference, local);
  } else {
    evaluate_triangle(out, d->reference, local);
  }
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
  for (int k = 0; k < n; k++) {
    index[k] = cavum_shape_on_edge(corners, ref->degree, term->local, k);
  }
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
