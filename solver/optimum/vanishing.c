// SPDX-License-Identifier: GPL-3.0-or-later
#include "optimum/vanishing.h"

#include <math.h>
#include <stdio.h>

#include "base/base.h"
#include "base/units.h"

// Least lengths: a part of the size of the cell, or of what the piece was.
static const double OF_SIZE = 1e-4, OF_PIECE = 0.1;

static double size_of(const cavum_contour *path) {
  double low = 0.0, high = 0.0, radius = 0.0;
  for (cavum_index i = 0; i < path->num_curves; i++) {
    const cavum_point at = path->curves[i].start;
    low = i == 0 ? at.z_m : cavum_min(low, at.z_m);
    high = i == 0 ? at.z_m : cavum_max(high, at.z_m);
    radius = cavum_max(radius, at.r_m);
  }
  return cavum_max(high - low, radius);
}

void cavum_vanishing_tell(char text[CAVUM_VANISHING_SIZE], const cavum_cell *cell,
                          const cavum_cell *base, double times) {
  const cavum_curve *found = NULL;
  double least_part = 1.0, left_m = 0.0;
  text[0] = '\0';
  if (cell->kind != CAVUM_CONTOUR_PATH || base->kind != CAVUM_CONTOUR_PATH) return;
  if (cell->path.num_curves != base->path.num_curves) return;
  double size = size_of(&base->path);
  for (cavum_index i = 0; i < cell->path.num_curves; i++) {
    const cavum_curve *curve = &cell->path.curves[i];
    double length = cavum_curve_length(curve, 0.0, 1.0);
    double before = cavum_curve_length(&base->path.curves[i], 0.0, 1.0);
    double part = length / (times * cavum_min(OF_SIZE * size, OF_PIECE * before));
    if (!(part < least_part)) continue;
    least_part = part;
    found = curve;
    left_m = length;
  }
  if (!found) return;
  snprintf(text, CAVUM_VANISHING_SIZE,
           "a piece of the wall vanishes at z = %.3f mm, r = %.3f mm (%.3g um left)",
           cavum_in_mm(found->start.z_m), cavum_in_mm(found->start.r_m),
           cavum_in_unit(left_m, CAVUM_UNIT_UM));
}
