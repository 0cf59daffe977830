// SPDX-License-Identifier: GPL-3.0-or-later
// Parts of curves: exact, since each kind has its own parts.
#include "contour/curve_cut.h"

#include <math.h>
#include <string.h>

cavum_parallel_place cavum_curve_formula_at(const cavum_curve *curve, double t) {
  if (cavum_curve_is_parallel(curve)) return cavum_parallel_at(curve, t);
  cavum_parallel_place at = {.first = cavum_curve_derivative(curve, t),
                             .second = cavum_curve_second_derivative(curve, t)};
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double angle = curve->angle_start_rad + t * (curve->angle_end_rad - curve->angle_start_rad);
    at.point = (cavum_point){curve->centre.z_m + curve->axial_m * cos(angle),
                             curve->centre.r_m + curve->radial_m * sin(angle)};
  } else if (curve->kind == CAVUM_CURVE_CUBIC) {
    for (int k = 3; k >= 0; k--) {
      at.point.z_m = at.point.z_m * t + curve->cubic[k].z_m;
      at.point.r_m = at.point.r_m * t + curve->cubic[k].r_m;
    }
  } else {
    at.point =
        (cavum_point){curve->start.z_m + t * at.first.z_m, curve->start.r_m + t * at.first.r_m};
  }
  return at;
}

// c(t) with t = from + s (to - from), as powers of s.
static void cut_cubic(cavum_point c[4], double from, double to) {
  double width = to - from;
  cavum_point d[4] = {{0.0, 0.0}};
  static const double binomial[4][4] = {{1, 1, 1, 1}, {0, 1, 2, 3}, {0, 0, 1, 3}, {0, 0, 0, 1}};
  double scale = 1.0;
  for (int n = 0; n < 4; n++) {
    double power = 1.0;
    for (int k = n; k < 4; k++) {
      d[n].z_m += scale * binomial[n][k] * power * c[k].z_m;
      d[n].r_m += scale * binomial[n][k] * power * c[k].r_m;
      power *= from;
    }
    scale *= width;
  }
  memcpy(c, d, sizeof d);
}

void cavum_curve_cut(cavum_curve *curve, double from, double to, cavum_point start,
                     cavum_point end) {
  if (cavum_curve_is_of_ellipse(curve)) {
    double first = curve->angle_start_rad, sweep = curve->angle_end_rad - first;
    if (from != 0.0) curve->angle_start_rad = first + from * sweep;
    if (to != 1.0) curve->angle_end_rad = first + to * sweep;
  } else if (cavum_curve_is_of_cubic(curve) && (from != 0.0 || to != 1.0)) {
    cut_cubic(curve->cubic, from, to);
  }
  curve->start = start;
  curve->end = end;
}
