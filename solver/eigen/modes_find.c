// SPDX-License-Identifier: GPL-3.0-or-later
// Modes by shift-invert Lanczos on a condensed, factorised pencil.
#include "eigen/modes_find.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "eigen/lanczos.h"
#include "eigen/mode_start.h"
#include "eigen/pencil_factorise.h"
#include "eigen/pencil_solve.h"

static cavum_status solve_operator(double *y, const double *b, void *context, cavum_error *error) {
  cavum_pencil_solve(y, context, 0, b);
  return cavum_stop_check(error);
}

static void mass_operator(double *y, const double *x, void *context) {
  cavum_pencil_apply_mass(y, context, x);
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
  cavum_mode_start_fill(start, pencil, guess);
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

cavum_status cavum_modes_find_lowest(cavum_modes *modes, cavum_pencil *pencil,
                                     cavum_condensed *condensed, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error) {
  cavum_modes found = {0};
  bool has_static = cavum_modes_has_static(pencil);
  int extra = has_static ? 1 : 0, most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  int wanted = count + extra < most ? count + extra : most;
  if (wanted < 1 + extra) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  cavum_status status = cavum_mode_start_factorise(pencil, condensed, guess, error);
  if (status == CAVUM_OK) status = iterate(&found, pencil, wanted, guess, tolerance, error);
  if (status != CAVUM_OK) return status;
  if (has_static) drop_first(&found);
  *modes = found;
  return CAVUM_OK;
}

cavum_status cavum_modes_find_near(cavum_modes *modes, cavum_pencil *pencil,
                                   cavum_condensed *condensed, int count, double k2_per_m2,
                                   const cavum_modes *guess, double tolerance, cavum_error *error) {
  cavum_modes found = {0};
  bool has_static = cavum_modes_has_static(pencil);
  int most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  int wanted = count + has_static < most ? count + has_static : most;
  cavum_status status = cavum_pencil_factorise(pencil, condensed, k2_per_m2, error);
  if (status == CAVUM_OK) status = iterate(&found, pencil, wanted, guess, tolerance, error);
  if (status != CAVUM_OK) return status;
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
  return CAVUM_OK;
}

cavum_status cavum_modes_find_around(cavum_modes *modes, cavum_pencil *pencil, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error) {
  int most = (int)cavum_min(pencil->levels[0].num_rows - 1, 1e9);
  if (most < 1) {
    return cavum_fail(error, CAVUM_ERR_MESH, "the mesh is too coarse to carry a mode");
  }
  return iterate(modes, pencil, count < most ? count : most, guess, tolerance, error);
}
