// SPDX-License-Identifier: GPL-3.0-or-later
// Eigenmodes by shift-invert Lanczos on a condensed, factorised pencil.
#include "eigen/modes.h"

#include <cblas.h>
#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/lanczos.h"
#include "eigen/step_rate.h"

// Where the shift goes relative to a predicted lowest k^2, and how it backs off.
static const double SHIFT_BELOW = 0.98, SHIFT_BACK = 0.7;
enum { SHIFT_TRIES = 12, INVERSE_STEPS = 15 };
// Vector error of a rough mode: its k^2 is then good to a few parts in ten thousand.
static const double ROUGH_ACCURACY = 3e-3;

void cavum_modes_clear(cavum_modes *modes) {
  if (!modes) return;
  free(modes->k2_per_m2);
  free(modes->vector_error);
  free(modes->accuracy_factor);
  free(modes->vectors);
  memset(modes, 0, sizeof *modes);
}

bool cavum_modes_has_static(const cavum_pencil *pencil) {
  if (pencil->discretisation->unknown != CAVUM_UNKNOWN_R_TIMES_H) return false;
  return pencil->skeleton->all_exist;
}

cavum_status cavum_modes_allocate(cavum_modes *modes, int count, cavum_index num_unknowns,
                                  cavum_error *error) {
  *modes = (cavum_modes){.count = count, .num_unknowns = num_unknowns};
  modes->k2_per_m2 = cavum_alloc(count, sizeof(double));
  modes->vector_error = cavum_alloc(count, sizeof(double));
  modes->accuracy_factor = cavum_alloc(count, sizeof(double));
  modes->vectors = cavum_alloc((int64_t)count * num_unknowns, sizeof(double));
  if (!modes->k2_per_m2 || !modes->vector_error || !modes->accuracy_factor || !modes->vectors) {
    cavum_modes_clear(modes);
    return cavum_fail_memory(error);
  }
  for (int m = 0; m < count; m++) modes->accuracy_factor[m] = 1.0;
  return CAVUM_OK;
}

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

static cavum_status factorise_below(cavum_pencil *pencil, cavum_condensed *condensed,
                                    const cavum_modes *guess, cavum_error *error) {
  bool has_static = cavum_modes_has_static(pencil);
  double zero = has_static ? -1.0 / extent_squared(pencil->discretisation->mesh) : 0.0;
  double shift = guess && !has_static ? SHIFT_BELOW * guess->k2_per_m2[0] : zero;
  for (int i = 0; i < SHIFT_TRIES; i++) {
    cavum_status status = cavum_pencil_factorise(pencil, condensed, shift, error);
    if (status != CAVUM_OK || pencil->levels[0].num_negative == 0) return status;
    shift = shift > 0.0 && i < 3 ? SHIFT_BACK * shift : (i < 4 ? zero : 10.0 * shift - 1.0);
  }
  return cavum_fail(error, CAVUM_ERR_LIBRARY, "no shift makes the stiffness positive definite");
}

static cavum_status solve_operator(double *y, const double *b, void *context, cavum_error *error) {
  (void)error;
  cavum_pencil_solve(y, context, 0, b);
  return CAVUM_OK;
}

static void mass_operator(double *y, const double *x, void *context) {
  cavum_pencil_apply_mass(y, context, x);
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

// A smooth deterministic start vector: the sum of the guesses, or ones on the vertices with a small
// pseudo-random part, so that no symmetry of the shape can hide a mode. Where all vertices lie on
// magnetic planes, all unknowns of vertices and edges are used.
static void fill_start(double *start, const cavum_pencil *pencil, const cavum_modes *guess) {
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

// Unknowns that the closure leaves free.
static int64_t dimension(const cavum_pencil *pencil) {
  const cavum_space *space = &pencil->discretisation->space;
  return cavum_space_size(space->mesh, space->degree) - space->num_skeleton +
         pencil->levels[0].num_rows;
}

// Runs the iteration on the factorised pencil; keeps all pairs found.
static cavum_status iterate(cavum_modes *modes, cavum_pencil *pencil, int count,
                            const cavum_modes *guess, double tolerance, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index size = pencil->discretisation->space.num_unknowns;
  cavum_modes found = {0};
  double *start = cavum_alloc(size, sizeof *start);
  if (!start) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_modes_allocate(&found, count, size, error));
  fill_start(start, pencil, guess);
  cavum_lanczos_problem problem = {size, dimension(pencil), pencil, solve_operator, mass_operator};
  CAVUM_TRY(cavum_lanczos_solve(found.k2_per_m2, found.vectors, &problem, count,
                                pencil->shift_per_m2, tolerance, start, error));
  // A pair that has settled is better than that by more than close neighbours take away.
  for (int m = 0; m < found.count; m++) found.vector_error[m] = tolerance;
  *modes = found;
  found = (cavum_modes){0};
done:
  free(start);
  cavum_modes_clear(&found);
  return status;
}

static void drop_first(cavum_modes *modes) {
  modes->count--;
  memmove(modes->k2_per_m2, modes->k2_per_m2 + 1, (size_t)modes->count * sizeof(double));
  memmove(modes->vector_error, modes->vector_error + 1, (size_t)modes->count * sizeof(double));
  memmove(modes->accuracy_factor, modes->accuracy_factor + 1,
          (size_t)modes->count * sizeof(double));
  memmove(modes->vectors, modes->vectors + modes->num_unknowns,
          (size_t)modes->count * (size_t)modes->num_unknowns * sizeof(double));
}

// Inverse iteration with the Rayleigh quotient on one level. False when it does not settle.
// from_below: the start is a mode of the degree below.
// work: shape [2][size], M x of the start in front; that of the mode at the end.
static bool iterate_inverse(cavum_modes *mode, cavum_pencil *pencil, int level, bool from_below,
                            double accuracy, double *work) {
  cavum_index size = mode->num_unknowns;
  double *x = mode->vectors, *mx = work, *b = work + size, moved_before = 1.0;
  int still = 0;  // steps since k^2 stopped changing
  for (int step = 0; step < INVERSE_STEPS; step++) {
    double before = mode->k2_per_m2[0], shift = pencil->shift_per_m2;
    memcpy(b, mx, (size_t)size * sizeof *b);
    cavum_pencil_solve(x, pencil, level, b);
    cavum_pencil_apply_mass(mx, pencil, x);
    // With A x = b the quotient needs no product with A = K - shift M.
    double norm = cblas_ddot(size, x, 1, mx, 1), above = cblas_ddot(size, x, 1, b, 1) / norm;
    mode->k2_per_m2[0] = shift + above;
    cblas_dscal(size, 1.0 / sqrt(norm), x, 1);
    cblas_dscal(size, 1.0 / sqrt(norm), mx, 1);
    // A converged eigenvalue does not mean a converged vector: its error is the square root, of
    // which the step just made has left a part.
    double change = before < HUGE_VAL ? fabs(mode->k2_per_m2[0] / before - 1.0) : 1.0;
    bool first = from_below && step == 0;
    double moved = cavum_step_moved(change);
    double left = first ? cavum_step_error_from_below(moved, above, shift, mode->vector_error[0])
                        : cavum_step_error_left(moved, moved_before);
    still = change < CAVUM_STEP_ROUNDING_CHANGE ? still + 1 : 0;
    mode->vector_error[0] = cavum_min(left, cavum_step_error_still(still));
    if (mode->vector_error[0] <= accuracy) return true;
    moved_before = change < 1.0 ? moved : 1.0;
  }
  return false;
}

// All of modes but their vectors.
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

cavum_status cavum_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                 cavum_condensed *condensed, const cavum_modes *guess,
                                 double accuracy, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found[CAVUM_LEVELS_MOST] = {{0}};
  int expected = 1 + (cavum_modes_has_static(pencil) ? 1 : 0);
  if (!CAVUM_HOLDS(guess->count == 1))
    return cavum_fail_internal(error, "one mode is improved here");
  double *work = cavum_alloc(2 * (int64_t)guess->num_unknowns, sizeof *work);
  accuracy = cavum_max(accuracy * guess->accuracy_factor[0], CAVUM_STEP_ACCURACY_LEAST);
  *settled = false;
  if (!work) CAVUM_TRY(cavum_fail_memory(error));
  // The shift goes above the mode, so that the same factorisation counts the modes below.
  CAVUM_TRY(
      cavum_pencil_factorise(pencil, condensed, CAVUM_SHIFT_ABOVE * guess->k2_per_m2[0], error));
  bool good = true;
  int lowest = pencil->num_levels - 1;
  for (int l = 0; l <= lowest; l++) good = good && pencil->levels[l].num_negative == expected;
  // What a guess lacks is found where it costs least; the levels above add what is theirs.
  for (int l = lowest; l >= 0 && good; l--) {
    const cavum_modes *from = l == lowest ? guess : &found[l + 1];
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(cavum_modes_allocate(&found[l], from->count, from->num_unknowns, error));
    cavum_modes_copy(&found[l], from, 0, from->count);
    if (l == lowest) {
      cavum_space_truncate(found[l].vectors, &pencil->discretisation->space,
                           pencil->levels[l].degree);
      cavum_pencil_apply_mass(work, pencil, found[l].vectors);
    }
    double enough = l == lowest || l == 0 ? accuracy : CAVUM_ACCURACY_BETWEEN * accuracy;
    good = iterate_inverse(&found[l], pencil, l, l < lowest, enough, work);
    // The one mode below the shift, and not the one above it that may be closer.
    good = good && found[l].k2_per_m2[0] < pencil->shift_per_m2;
  }
  for (int l = 0; l < pencil->num_levels && good; l++) {
    modes[l] = found[l];
    found[l] = (cavum_modes){0};
  }
  *settled = good;
done:
  free(work);
  for (int l = 0; l < CAVUM_LEVELS_MOST; l++) cavum_modes_clear(&found[l]);
  return status;
}

cavum_status cavum_modes_find_roughly(cavum_modes *mode, cavum_pencil *pencil,
                                      cavum_condensed *condensed, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found = {0};
  cavum_index size = pencil->discretisation->space.num_unknowns;
  double *work = cavum_alloc(2 * (int64_t)size, sizeof *work);
  if (!work) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_modes_allocate(&found, 1, size, error));
  CAVUM_TRY(factorise_below(pencil, condensed, NULL, error));
  fill_start(found.vectors, pencil, NULL);
  found.k2_per_m2[0] = HUGE_VAL;
  cavum_pencil_apply_mass(work, pencil, found.vectors);
  (void)iterate_inverse(&found, pencil, pencil->num_levels - 1, false, ROUGH_ACCURACY, work);
  *mode = found;
  found = (cavum_modes){0};
done:
  free(work);
  cavum_modes_clear(&found);
  return status;
}

cavum_status cavum_modes_find_lowest(cavum_modes *modes, cavum_pencil *pencil,
                                     cavum_condensed *condensed, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found = {0};
  bool has_static = cavum_modes_has_static(pencil);
  int extra = has_static ? 1 : 0, most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  int wanted = count + extra < most ? count + extra : most;
  if (wanted < 1 + extra) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  CAVUM_TRY(factorise_below(pencil, condensed, guess, error));
  CAVUM_TRY(iterate(&found, pencil, wanted, guess, tolerance, error));
  if (has_static) drop_first(&found);
  *modes = found;
done:
  return status;
}

cavum_status cavum_modes_find_near(cavum_modes *modes, cavum_pencil *pencil,
                                   cavum_condensed *condensed, int count, double k2_per_m2,
                                   const cavum_modes *guess, double tolerance, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_modes found = {0};
  bool has_static = cavum_modes_has_static(pencil);
  int most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  int wanted = count + has_static < most ? count + has_static : most;
  CAVUM_TRY(cavum_pencil_factorise(pencil, condensed, k2_per_m2, error));
  CAVUM_TRY(iterate(&found, pencil, wanted, guess, tolerance, error));
  // The static mode lies at zero to rounding; real modes lie above 1 / extent^2.
  if (has_static && found.k2_per_m2[0] < 1e-6 * k2_per_m2) drop_first(&found);
  if (found.count > count) {
    // One more than wanted: leave out the farther of the two ends.
    if (k2_per_m2 - found.k2_per_m2[0] > found.k2_per_m2[found.count - 1] - k2_per_m2) {
      drop_first(&found);
    } else {
      found.count--;
    }
  }
  *modes = found;
done:
  return status;
}

cavum_status cavum_modes_count_below(int64_t *count, cavum_pencil *pencil,
                                     cavum_condensed *condensed, double k2_per_m2,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_pencil_factorise(pencil, condensed, k2_per_m2, error));
  *count = pencil->levels[0].num_negative - (cavum_modes_has_static(pencil) ? 1 : 0);
done:
  return status;
}

cavum_status cavum_modes_residual(double *residual, const cavum_modes *modes, int index,
                                  const cavum_pencil *pencil, cavum_error *error) {
  cavum_index size = modes->num_unknowns;
  const double *x = modes->vectors + (int64_t)index * size;
  double *kx = cavum_alloc(2 * (int64_t)size, sizeof *kx), *mx = kx + size;
  if (!kx) return cavum_fail_memory(error);
  cavum_discretisation_apply_stiffness(kx, pencil->discretisation, x);
  cavum_pencil_clear_essential(kx, pencil);
  cavum_pencil_apply_mass(mx, pencil, x);
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
