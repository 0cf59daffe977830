// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of the boundary at which the electric field is infinite. Near a corner of interior angle
// a the field grows as rho^(q - 1) with q = pi / a between natural boundaries and pi / (2 a)
// between a natural one and one with w = 0 [Grisvard1985]; q < 1 means an infinite field. Where
// materials meet, q is the root of a problem over their sectors (element/sector_exponent.h).
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

// Exponents below 1 by no more than this are 1.
static const double ROUNDING = 5e-3;

// Whether a field goes on smoothly as at a straight wall, of which the exponent is 1; a little less
// is dimension rounding.
static bool is_straight(double exponent, double tolerance) {
  return exponent > 1.0 - ROUNDING && 1.0 / exponent > 1.0 - tolerance / CAVUM_PI;
}

// Where materials meet, the side between them tells whether it is a facet of a curve.
static double facet_of_materials(const cavum_boundary_corner *c, const cavum_mesh *mesh) {
  double most = tolerance_rad(mesh), bend = fabs(c->interior_rad - CAVUM_PI);
  return cavum_min(most, c->turn_rad + (bend < most ? bend : 0.0));
}

// Whether metal turns inwards by more than a facet does: an edge, whatever the material beside it.
static bool is_metal_edge(const cavum_boundary_corner *c, const cavum_mesh *mesh) {
  return c->before == CAVUM_BOUNDARY_METAL && c->after == CAVUM_BOUNDARY_METAL &&
         c->interior_rad > CAVUM_PI + tolerance_rad(mesh);
}

static double tolerance_of_materials(const cavum_boundary_corner *c, const cavum_mesh *mesh) {
  double rounding = cavum_from_unit(1.0, CAVUM_UNIT_DEGREE);
  if (is_metal_edge(c, mesh)) return rounding;
  return cavum_min(tolerance_rad(mesh), rounding + facet_of_materials(c, mesh));
}

// Voltages converge algebraically for angles that are off a right one by fractions of a degree.
static const double RIGHT_ANGLE_RAD = 1e-5;

// Where a wall meets the axis at a right angle, or straight on, the field is smooth. Sides of a
// mesh file may be facets; sharper angles than a right one are left out there.
static bool is_regular_tip(const cavum_boundary_corner *c, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  if (mesh->node_order > 0) return !is_beyond_right_angle(c, view);
  return fabs(c->interior_rad - 0.5 * CAVUM_PI) < RIGHT_ANGLE_RAD ||
         fabs(c->interior_rad - CAVUM_PI) < RIGHT_ANGLE_RAD;
}

// An exponent of 1 at a right angle changes with the angle by up to two pi-th parts of it.
static bool is_regular_interface(double nu, const cavum_boundary_corner *c,
                                 const cavum_mesh *mesh) {
  double off = RIGHT_ANGLE_RAD + facet_of_materials(c, mesh);
  return fabs(nu - 1.0) < 2.0 / CAVUM_PI * off;
}

static double exponent_of_materials(const cavum_boundary_corner *c, const cavum_view *view) {
  return c->exponent[is_zero_boundary(c->before, view)][is_zero_boundary(c->after, view)];
}

static bool is_on_axis(const cavum_boundary_corner *c) {
  return c->before == CAVUM_BOUNDARY_AXIS || c->after == CAVUM_BOUNDARY_AXIS;
}

// Whether the field is not smooth at a corner, and its exponent there: lambda off the axis, nu on
// it.
static bool is_singular(double *exponent, const cavum_boundary_corner *c, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  bool zero_before = is_zero_boundary(c->before, view), on_axis = is_on_axis(c);
  bool zero_after = is_zero_boundary(c->after, view);
  if (c->several_materials) {
    *exponent = exponent_of_materials(c, view);
    return on_axis ? !is_regular_interface(*exponent, c, mesh)
                   : !is_straight(*exponent, tolerance_of_materials(c, mesh));
  }
  if (c->before == CAVUM_BOUNDARY_AXIS && c->after == CAVUM_BOUNDARY_AXIS) return false;
  if (on_axis) {
    if (is_regular_tip(c, view)) return false;
    *exponent = cavum_tip_exponent(c->interior_rad, zero_before || zero_after);
    return true;
  }
  *exponent = cavum_corner_exponent(c->interior_rad, zero_before != zero_after);
  return !is_straight(*exponent, tolerance_rad(mesh));
}

cavum_status cavum_sharp_corner_mark(bool *marked, const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double *inner = cavum_alloc(mesh->num_vertices, sizeof *inner);
  if (!inner) return cavum_fail_memory(error);
  cavum_status status = cavum_corner_inner_exponents(inner, mesh, error);
  for (cavum_index v = 0; status == CAVUM_OK && v < mesh->num_vertices; v++) {
    marked[v] = inner[v] < 1.0 - ROUNDING;
  }
  for (cavum_index i = 0; status == CAVUM_OK && i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    double exponent;
    // Dimension rounding at a tip is no singularity there (is_regular_tip()); a little below a
    // right angle E has the limit 0, which no elements come near.
    double most = is_on_axis(c) ? 1.0 + ROUNDING : 1.0 - ROUNDING;
    if (is_singular(&exponent, c, view) && exponent < most) marked[c->vertex] = true;
  }
  free(inner);
  return status;
}

cavum_weakest_exponents cavum_sharp_corner_weakest_exponents(const cavum_view *view) {
  cavum_weakest_exponents weakest = {CAVUM_SMOOTH_EXPONENT, CAVUM_SMOOTH_EXPONENT};
  double inner = view->boundary->inner_exponent;
  if (inner < 1.0 - ROUNDING) weakest.corner = inner;
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    double exponent;
    if (!is_singular(&exponent, c, view)) continue;
    if (is_on_axis(c)) {
      weakest.tip = cavum_min(weakest.tip, 0.5 * exponent);
    } else {
      weakest.corner = cavum_min(weakest.corner, exponent);
    }
  }
  return weakest;
}

cavum_status cavum_sharp_corner_weakest_place(cavum_point *place, bool *found,
                                              const cavum_view *view, cavum_error *error) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double weakest = 1.0 - ROUNDING;
  double *inner = cavum_alloc(mesh->num_vertices, sizeof *inner);
  if (!inner) return cavum_fail_memory(error);
  cavum_status status = cavum_corner_inner_exponents(inner, mesh, error);
  *found = false;
  for (cavum_index v = 0; status == CAVUM_OK && v < mesh->num_vertices; v++) {
    if (inner[v] >= weakest) continue;
    weakest = inner[v];
    *place = mesh->vertices[v];
    *found = true;
  }
  for (cavum_index i = 0; status == CAVUM_OK && i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    double exponent;
    if (!is_singular(&exponent, c, view)) continue;
    if (is_on_axis(c)) exponent *= 0.5;
    if (exponent >= weakest) continue;
    weakest = exponent;
    *place = c->at;
    *found = true;
  }
  free(inner);
  return status;
}

// How far a corner is beyond the largest angle with a finite E, as an angle between metal and metal
// of one material, and what of that rounding and facets may be. Between materials the exponent
// changes with an angle up to twice as much as on a wall.
static double excess_of(double *tolerance, const cavum_boundary_corner *c, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  bool metal = c->before == CAVUM_BOUNDARY_METAL || c->after == CAVUM_BOUNDARY_METAL;
  *tolerance = tolerance_rad(mesh);
  if (!c->several_materials) {
    return c->interior_rad - largest_finite_angle(c->after, c->before, view);
  }
  *tolerance = cavum_min(*tolerance, 2.0 * tolerance_of_materials(c, mesh));
  return metal ? CAVUM_PI / exponent_of_materials(c, view) - CAVUM_PI : 0.0;
}

bool cavum_sharp_corner_find(cavum_point *corner, const cavum_view *view) {
  double worst = 0.0;
  bool found = false;
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    double tolerance, excess = excess_of(&tolerance, c, view);
    if (excess <= tolerance || excess <= worst) continue;
    worst = excess;
    found = true;
    *corner = c->at;
  }
  return found;
}
