// SPDX-License-Identifier: GPL-3.0-or-later
// Products with the mass matrices of the elements, eight at a time.
#include "fem/mass_matrices.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "fem/apply.h"

// Up to this degree: nine functions and 45 entries of a quadrilateral.
enum { DEGREE_MOST = 2, SHAPES_MOST = (DEGREE_MOST + 1) * (DEGREE_MOST + 1) };

static int count_entries(int shapes) { return shapes * (shapes + 1) / 2; }

static int shapes_of(const cavum_discretisation *d, const cavum_batch *batch) {
  return cavum_shape_count(batch->num_corners, d->reference->degree);
}

// One column a function: the product of that function alone.
static void fill_batch(cavum_lanes *to, const cavum_discretisation *d, const cavum_batch *batch) {
  int shapes = shapes_of(d, batch);
  int skeleton = cavum_shape_count_skeleton(batch->num_corners, d->reference->degree);
  const cavum_lanes *sign = d->sign + batch->first_sign;
  cavum_lanes x[SHAPES_MOST], column[SHAPES_MOST];
  for (int c = 0; c < shapes; c++) {
    for (int a = 0; a < shapes; a++) x[a] = (cavum_lanes){0} + (a == c ? 1.0 : 0.0);
    cavum_discretisation_local_mass(column, d, batch, x);
    for (int a = c; a < shapes; a++) {
      cavum_lanes value = column[a];
      if (a < skeleton) value *= sign[a];
      if (c < skeleton) value *= sign[c];
      *to++ = value;
    }
  }
}

cavum_status cavum_mass_matrices_create(cavum_mass_matrices *matrices,
                                        const cavum_discretisation *d, cavum_error *error) {
  int64_t count = 0;
  *matrices = (cavum_mass_matrices){.discretisation = d};
  if (d->reference->degree > DEGREE_MOST) return CAVUM_OK;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    count += count_entries(shapes_of(d, &d->batches[b]));
  }
  matrices->entries = cavum_alloc_aligned(count, sizeof *matrices->entries);
  if (!matrices->entries) return cavum_fail_memory(error);
  cavum_lanes *to = matrices->entries;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    fill_batch(to, d, &d->batches[b]);
    to += count_entries(shapes_of(d, &d->batches[b]));
  }
  return CAVUM_OK;
}

void cavum_mass_matrices_clear(cavum_mass_matrices *matrices) {
  if (!matrices) return;
  free(matrices->entries);
  *matrices = (cavum_mass_matrices){0};
}

// One batch: interior functions of a lane are consecutive in x, and are of this batch alone.
static inline __attribute__((always_inline)) void multiply(double *restrict y,
                                                           const cavum_discretisation *d,
                                                           const cavum_batch *batch,
                                                           const cavum_lanes *restrict entries,
                                                           const double *restrict x,
                                                           const int shapes, const int skeleton) {
  const cavum_index(*index)[CAVUM_LANES] = d->index + batch->first_index;
  const double *inside = x + batch->first_interior;
  cavum_lanes in[SHAPES_MOST], out[SHAPES_MOST];
  for (int a = 0; a < skeleton; a++) {
    for (int l = 0; l < CAVUM_LANES; l++) in[a][l] = x[index[a][l]];
  }
  for (int a = skeleton; a < shapes; a++, inside += CAVUM_LANES) {
    in[a] = *(const cavum_lanes_anywhere *)inside;
  }
  for (int a = 0; a < shapes; a++) out[a] = (cavum_lanes){0};
  for (int c = 0; c < shapes; c++) {
    out[c] += *entries++ * in[c];
    for (int a = c + 1; a < shapes; a++, entries++) {
      out[a] += *entries * in[c];
      out[c] += *entries * in[a];
    }
  }
  for (int a = 0; a < skeleton; a++) {
    for (int l = 0; l < batch->count; l++) y[index[a][l]] += out[a][l];
  }
  double *to = y + batch->first_interior;
  for (int a = skeleton; a < shapes; a++, to += CAVUM_LANES) {
    for (int l = batch->count; l < CAVUM_LANES; l++) out[a][l] = 0.0;
    *(cavum_lanes_anywhere *)to = out[a];
  }
}

CAVUM_FAST static void multiply_all(double *restrict y, const cavum_discretisation *d,
                                    const cavum_lanes *restrict entries, const double *restrict x) {
  bool first = d->reference->degree == 1;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    if (batch->num_corners == 4) {
      if (first) multiply(y, d, batch, entries, x, 4, 4);
      if (!first) multiply(y, d, batch, entries, x, 9, 8);
      entries += first ? 10 : 45;
    } else {
      if (first) multiply(y, d, batch, entries, x, 3, 3);
      if (!first) multiply(y, d, batch, entries, x, 6, 6);
      entries += first ? 6 : 21;
    }
  }
}

void cavum_mass_matrices_apply(double *y, const cavum_mass_matrices *matrices, const double *x) {
  const cavum_discretisation *d = matrices->discretisation;
  if (!matrices->entries) {
    cavum_discretisation_apply_mass(y, d, x);
    return;
  }
  memset(y, 0, (size_t)cavum_space_lanes(d->space.num_skeleton) * sizeof *y);
  multiply_all(y, d, matrices->entries, x);
}
