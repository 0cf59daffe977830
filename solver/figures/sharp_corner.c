// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of the boundary at which the electric field is infinite. Near a corner of interior angle
// a the field grows as rho^(q - 1) with q = pi / a between natural boundaries and pi / (2 a)
// between a natural one and one with w = 0 [Grisvard1985]; q < 1 means an infinite field.
#include "figures/sharp_corner.h"

#include "base/base.h"
#include "base/units.h"
#include "element/singular_exponent.h"

// Angles beyond the limit by less than this are dimension rounding on exact contours, and facets of
// a curved wall on meshes (30 degrees when straight-sided, 10 when curved).
static double tolerance_rad(const cavum_mesh *mesh) {
  double degrees = mesh->node_order == 0 ? 1.0 : (mesh->node_order == 1 ? 30.0 : 10.0);
  return cavum_from_unit(degrees, CAVUM_UNIT_DEGREE);
}

static bool is_zero_boundary(cavum_boundary boundary, const cavum_view *view) {
  return boundary == CAVUM_BOUNDARY_MAGNETIC ||
         (boundary == CAVUM_BOUNDARY_SYMMETRY && view->parity == CAVUM_PARITY_ODD);
}

// Largest interior angle at which E stays finite between two boundaries; 0 if none of them is
// metal.
static double largest_finite_angle(cavum_boundary a, cavum_boundary b, const cavum_view *view) {
  if (a != CAVUM_BOUNDARY_METAL && b != CAVUM_BOUNDARY_METAL) return 4.0 * CAVUM_PI;
  bool half = a == CAVUM_BOUNDARY_AXIS || b == CAVUM_BOUNDARY_AXIS || is_zero_boundary(a, view) ||
              is_zero_boundary(b, view);
  return half ? 0.5 * CAVUM_PI : CAVUM_PI;
}

static bool is_beyond_right_angle(const cavum_boundary_corner *corner, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  return corner->interior_rad > 0.5 * CAVUM_PI + tolerance_rad(mesh);
}

bool cavum_sharp_corner_is_tip(const cavum_boundary_corner *corner, const cavum_view *view) {
  bool on_axis = (corner->before == CAVUM_BOUNDARY_AXIS) != (corner->after == CAVUM_BOUNDARY_AXIS);
  return on_axis && !is_zero_boundary(corner->before, view) &&
         !is_zero_boundary(corner->after, view) && is_beyond_right_angle(corner, view);
}

// Whether a field goes on smoothly as at a straight wall, of which the exponent is 1; a little less
// is dimension rounding.
static bool is_straight(double exponent, const cavum_mesh *mesh) {
  const double rounding = 5e-3;
  return exponent > 1.0 - rounding && 1.0 / exponent > 1.0 - tolerance_rad(mesh) / CAVUM_PI;
}

cavum_weakest_exponents cavum_sharp_corner_weakest_exponents(const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  cavum_weakest_exponents weakest = {CAVUM_SMOOTH_EXPONENT, CAVUM_SMOOTH_EXPONENT};
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    bool zero_before = is_zero_boundary(c->before, view);
    bool zero_after = is_zero_boundary(c->after, view);
    bool axis_before = c->before == CAVUM_BOUNDARY_AXIS;
    bool axis_after = c->after == CAVUM_BOUNDARY_AXIS;
    if (axis_before && axis_after) continue;
    if (axis_before || axis_after) {
      if (!is_beyond_right_angle(c, view)) continue;
      double nu = cavum_tip_exponent(c->interior_rad, zero_before || zero_after);
      weakest.tip = cavum_min(weakest.tip, 0.5 * nu);
    } else {
      double lambda = cavum_corner_exponent(c->interior_rad, zero_before != zero_after);
      if (!is_straight(lambda, mesh)) weakest.corner = cavum_min(weakest.corner, lambda);
    }
  }
  return weakest;
}

bool cavum_sharp_corner_find(cavum_point *corner, const cavum_view *view) {
  double worst = tolerance_rad(view->field.discretisation->mesh);
  bool found = false;
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    double excess = c->interior_rad - largest_finite_angle(c->after, c->before, view);
    if (excess <= worst) continue;
    worst = excess;
    found = true;
    *corner = c->at;
  }
  return found;
}
