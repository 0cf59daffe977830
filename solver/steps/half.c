// SPDX-License-Identifier: GPL-3.0-or-later
// The half is what is left when all from one end to the equator is taken out.
#include "steps/half.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/band.h"
#include "contour/check.h"
#include "steps/shape_step.h"

// A piece that begins and ends this near to a plane is in it.
static const double IN_PLANE_M = 1e-12;

static bool is_plane_at(const cavum_curve *curve, double z_m) {
  return curve->kind == CAVUM_CURVE_LINE && fabs(curve->start.z_m - z_m) < IN_PLANE_M &&
         fabs(curve->end.z_m - z_m) < IN_PLANE_M && curve->boundary != CAVUM_BOUNDARY_AXIS;
}

// Gives what closes the contour at an end of its axis a condition.
static cavum_status close_end(cavum_contour *contour, double z_m, cavum_boundary boundary,
                              cavum_error *error) {
  int count = 0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (!is_plane_at(&contour->curves[i], z_m)) continue;
    contour->curves[i].boundary = boundary;
    count++;
  }
  if (count == 1) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "a half between plates: no single plane closes the cell at z = %g mm",
                    cavum_in_mm(z_m));
}

cavum_status cavum_shape_take_half(cavum_cell *half, const cavum_cell *shape, cavum_half_side side,
                                   cavum_pair_mode mode, cavum_error *error) {
  cavum_cell made;
  cavum_contour part = {0};
  double left_m = 0.0, right_m = 0.0;
  bool is_left = side == CAVUM_HALF_LEFT;
  cavum_status status = cavum_shape_copy(&made, shape, error);
  if (status != CAVUM_OK) return status;
  double equator_m = cavum_contour_equator_m(&shape->path);
  cavum_contour_find_ends(&left_m, &right_m, &shape->path);
  CAVUM_TRY(cavum_contour_take_out(&part, &shape->path, is_left ? equator_m : left_m,
                                   is_left ? right_m : equator_m, error));
  cavum_contour_clear(&made.path);
  made.path = part;
  part = (cavum_contour){0};
  // What is right of the piece that is taken out moves to the left by it.
  cavum_contour_find_ends(&left_m, &right_m, &made.path);
  cavum_boundary iris = mode == CAVUM_PAIR_ZERO ? CAVUM_BOUNDARY_ELECTRIC : CAVUM_BOUNDARY_MAGNETIC;
  CAVUM_TRY(close_end(&made.path, is_left ? left_m : right_m, iris, error));
  CAVUM_TRY(close_end(&made.path, is_left ? right_m : left_m, CAVUM_BOUNDARY_ELECTRIC, error));
  CAVUM_TRY(cavum_contour_check(&made.path, NULL, NULL, error));
  made.accelerating_length_m = 0.0;
  made.num_modes = 1;
  *half = made;
  return CAVUM_OK;
done:
  cavum_cell_clear(&made);
  return status;
}
