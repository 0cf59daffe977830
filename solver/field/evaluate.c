// SPDX-License-Identifier: GPL-3.0-or-later
// Values and derivatives of a function at the quadrature points of one element, sum-factorised on
// quadrilaterals.
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

// Local coefficients to the padded grid [j][i] of segment functions.
static void to_tensor(double *tensor, const cavum_reference *ref, const double *local) {
  for (int a = 0; a < ref->n * ref->n; a++) {
    tensor[ref->quad_j[a] * WIDE + ref->quad_i[a]] = ref->quad_sign[a] * local[a];
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
