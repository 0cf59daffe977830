// SPDX-License-Identifier: GPL-3.0-or-later
// Storage of modes, and what vectors say about them: quotient, residual, number below a bound.
#include "eigen/modes.h"

#include <string.h>

#include "base/base.h"
#include "eigen/pencil_factorise.h"
#include "fem/apply.h"
#include "linalg/blas_calls.h"

void cavum_modes_clear(cavum_modes *modes) {
  if (!modes) return;
  free(modes->k2_per_m2);
  free(modes->vector_error);
  free(modes->accuracy_factor);
  free(modes->vectors);
  memset(modes, 0, sizeof *modes);
}

double cavum_modes_distance(double k2_per_m2, double other_per_m2) {
  return fabs(sqrt(cavum_max(k2_per_m2, 0.0)) - sqrt(cavum_max(other_per_m2, 0.0)));
}

bool cavum_modes_has_static(const cavum_pencil *pencil) {
  if (pencil->discretisation->unknown != CAVUM_UNKNOWN_R_TIMES_H) return false;
  return pencil->skeleton->all_exist;
}

cavum_status cavum_modes_allocate_numbers(cavum_modes *modes, int count, cavum_index num_unknowns,
                                          cavum_error *error) {
  *modes = (cavum_modes){.count = count, .num_unknowns = num_unknowns};
  modes->k2_per_m2 = cavum_alloc(count, sizeof(double));
  modes->vector_error = cavum_alloc(count, sizeof(double));
  modes->accuracy_factor = cavum_alloc(count, sizeof(double));
  if (!modes->k2_per_m2 || !modes->vector_error || !modes->accuracy_factor) {
    cavum_modes_clear(modes);
    return cavum_fail_memory(error);
  }
  for (int m = 0; m < count; m++) modes->accuracy_factor[m] = 1.0;
  return CAVUM_OK;
}

cavum_status cavum_modes_allocate(cavum_modes *modes, int count, cavum_index num_unknowns,
                                  cavum_error *error) {
  cavum_status status = cavum_modes_allocate_numbers(modes, count, num_unknowns, error);
  if (status != CAVUM_OK) return status;
  modes->vectors = cavum_alloc((int64_t)count * num_unknowns, sizeof(double));
  if (modes->vectors) return CAVUM_OK;
  cavum_modes_clear(modes);
  return cavum_fail_memory(error);
}

void cavum_modes_copy_numbers(cavum_modes *to, const cavum_modes *from, int first, int count) {
  size_t bytes = (size_t)count * sizeof(double);
  memcpy(to->k2_per_m2 + first, from->k2_per_m2 + first, bytes);
  memcpy(to->vector_error + first, from->vector_error + first, bytes);
  memcpy(to->accuracy_factor + first, from->accuracy_factor + first, bytes);
}

void cavum_modes_copy(cavum_modes *to, const cavum_modes *from, int first, int count) {
  size_t size = (size_t)from->num_unknowns, at = (size_t)first * size;
  cavum_modes_copy_numbers(to, from, first, count);
  memcpy(to->vectors + at, from->vectors + at, (size_t)count * size * sizeof(double));
}

// x^T K x / x^T M x.
static double rayleigh_quotient(const double *x, const cavum_discretisation *d, double *product) {
  cavum_index size = d->space.num_unknowns;
  cavum_discretisation_apply_stiffness(product, d, x);
  double stiffness = cblas_ddot(size, x, 1, product, 1);
  cavum_discretisation_apply_mass(product, d, x);
  return stiffness / cblas_ddot(size, x, 1, product, 1);
}

cavum_status cavum_modes_measure(cavum_modes *modes, int last, const cavum_pencil *pencil,
                                 cavum_error *error) {
  if (!CAVUM_HOLDS(last >= 0 && last < modes->count))
    return cavum_fail_internal(error, "the mode to measure");
  cavum_index size = modes->num_unknowns;
  double *product = cavum_alloc(size, sizeof *product), factor = 1.0;
  if (!product) return cavum_fail_memory(error);
  for (int m = last; m < modes->count && m <= last + 1; m++) {
    double *x = modes->vectors + (int64_t)m * size;
    cavum_pencil_clear_essential(x, pencil);
    double k2 = rayleigh_quotient(x, pencil->discretisation, product);
    if (m == last) factor = k2 / modes->k2_per_m2[m];
    modes->k2_per_m2[m] = k2;
  }
  for (int m = 0; m < modes->count; m++) {
    if (m < last || m > last + 1) modes->k2_per_m2[m] *= factor;
    modes->vector_error[m] = 1.0;
  }
  free(product);
  return CAVUM_OK;
}

cavum_status cavum_modes_count_below(int64_t *count, cavum_pencil *pencil,
                                     cavum_condensed *condensed, double k2_per_m2,
                                     cavum_error *error) {
  cavum_status status = cavum_pencil_factorise(pencil, condensed, k2_per_m2, error);
  if (status != CAVUM_OK) return status;
  *count = pencil->levels[0].num_negative - (cavum_modes_has_static(pencil) ? 1 : 0);
  return CAVUM_OK;
}

cavum_status cavum_modes_residual(double *residual, const cavum_modes *modes, int index,
                                  const cavum_pencil *pencil, cavum_error *error) {
  cavum_index size = modes->num_unknowns;
  const double *x = modes->vectors + (int64_t)index * size;
  double *kx = cavum_alloc_aligned(2 * (int64_t)size, sizeof *kx);
  if (!kx) return cavum_fail_memory(error);
  double *mx = kx + size;
  cavum_discretisation_apply(pencil->discretisation, &(cavum_function_products){x, mx, kx}, 1);
  cavum_pencil_clear_essential(kx, pencil);
  cavum_pencil_clear_essential(mx, pencil);
  double difference = 0.0, scale = 0.0, k2 = modes->k2_per_m2[index];
  for (cavum_index i = 0; i < size; i++) {
    double r = kx[i] - k2 * mx[i];
    difference += r * r;
    scale += k2 * k2 * mx[i] * mx[i];
  }
  free(kx);
  *residual = sqrt(difference / scale);
  return CAVUM_OK;
}

cavum_status cavum_modes_embed(cavum_modes *high, const cavum_space *high_space,
                               const cavum_modes *low, const cavum_space *low_space,
                               cavum_error *error) {
  cavum_status status = cavum_modes_allocate(high, low->count, high_space->num_unknowns, error);
  if (status != CAVUM_OK) return status;
  cavum_modes_copy_numbers(high, low, 0, low->count);
  for (int m = 0; m < low->count; m++) {
    cavum_space_embed(high->vectors + (int64_t)m * high->num_unknowns, high_space,
                      low->vectors + (int64_t)m * low->num_unknowns, low_space);
  }
  return CAVUM_OK;
}
