// SPDX-License-Identifier: GPL-3.0-or-later
// The shift and the vector that an iteration begins with.
#include "eigen/mode_start.h"

#include "base/base.h"
#include "eigen/pencil_factorise.h"

// Where the shift goes relative to a predicted lowest k^2, and how it backs off.
static const double SHIFT_BELOW = 0.98, SHIFT_BACK = 0.7;
enum { SHIFT_TRIES = 12 };

// Square of the smallest distance in which a field of this domain can vary: its extent.
static double extent_squared(const cavum_mesh *mesh) {
  double z_low = HUGE_VAL, z_high = -HUGE_VAL, r_low = HUGE_VAL, r_high = -HUGE_VAL;
  for (cavum_index i = 0; i < mesh->num_vertices; i++) {
    z_low = cavum_min(z_low, mesh->vertices[i].z_m);
    z_high = cavum_max(z_high, mesh->vertices[i].z_m);
    r_low = cavum_min(r_low, mesh->vertices[i].r_m);
    r_high = cavum_max(r_high, mesh->vertices[i].r_m);
  }
  return (z_high - z_low) * (z_high - z_low) + (r_high - r_low) * (r_high - r_low);
}

cavum_status cavum_mode_start_factorise(cavum_pencil *pencil, cavum_condensed *condensed,
                                        const cavum_modes *guess, cavum_error *error) {
  // Of a pencil that shares factors the other one's matrix is factorised: zero is no eigenvalue of
  // its own then, but of that.
  bool has_static = cavum_modes_has_static(pencil->factor_owner ? pencil->factor_owner : pencil);
  double zero = has_static ? -1.0 / extent_squared(pencil->discretisation->mesh) : 0.0;
  double shift = guess && !has_static ? SHIFT_BELOW * guess->k2_per_m2[0] : zero;
  for (int i = 0; i < SHIFT_TRIES; i++) {
    cavum_status status = cavum_pencil_factorise(pencil, condensed, shift, error);
    if (status != CAVUM_OK || pencil->levels[0].num_negative == 0) return status;
    shift = shift > 0.0 && i < 3 ? SHIFT_BACK * shift : (i < 4 ? zero : 10.0 * shift - 1.0);
  }
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "no shift makes the stiffness positive definite");
}

static double largest_size(const double *x, cavum_index count) {
  double largest = 0.0;
  for (cavum_index i = 0; i < count; i++) largest = cavum_max(largest, fabs(x[i]));
  return largest;
}

// Adds deterministic pseudo-random numbers in [-scale / 2, scale / 2) to the first unknowns.
static void add_noise(double *x, cavum_index count, double mean, double scale) {
  uint64_t state = 0x2545F4914F6CDD1Dull;
  for (cavum_index i = 0; i < count; i++) {
    state = state * 6364136223846793005ull + 1442695040888963407ull;
    x[i] += mean + scale * ((double)(state >> 11) / 9007199254740992.0 - 0.5);
  }
}

void cavum_mode_start_fill(double *start, const cavum_pencil *pencil, const cavum_modes *guess) {
  const cavum_space *space = &pencil->discretisation->space;
  cavum_index size = space->num_unknowns, vertices = space->mesh->num_vertices;
  for (int m = 0; guess && m < guess->count; m++) {
    for (cavum_index i = 0; i < size; i++) start[i] += guess->vectors[(int64_t)m * size + i];
  }
  double largest = largest_size(start, size);
  add_noise(start, vertices, guess ? 0.0 : 1.0, guess ? 1e-3 * largest : 1.0);
  cavum_pencil_clear_essential(start, pencil);
  if (largest_size(start, size) > 0.0) return;
  add_noise(start, space->num_skeleton, 1.0, 1.0);
  cavum_pencil_clear_essential(start, pencil);
}
