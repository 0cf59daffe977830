// SPDX-License-Identifier: GPL-3.0-or-later
// Corners of the boundary at which the electric field is infinite. Near a corner of interior angle
// a the field grows as rho^(q - 1) with q = pi / a between natural boundaries and pi / (2 a)
// between a natural one and one with w = 0 [Grisvard1985]; q < 1 means an infinite field.
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "element/element_map.h"
#include "element/topology.h"
#include "figures/surface.h"

// Angles beyond the limit by less than this are dimension rounding on exact contours, and facets of
// a curved wall on meshes (30 degrees when straight-sided, 10 when curved).
static double tolerance_rad(const cavum_mesh *mesh) {
  double degrees = mesh->node_order == 0 ? 1.0 : (mesh->node_order == 1 ? 30.0 : 10.0);
  return cavum_from_unit(degrees, CAVUM_UNIT_DEGREE);
}

// What a boundary edge brings to a vertex: kind, and the direction that leads away from the vertex.
typedef struct ray {
  bool present;
  cavum_boundary boundary;
  double z, r;
} ray;

static ray ray_from(const cavum_mesh *mesh, cavum_index edge, bool at_end) {
  cavum_index e = mesh->edges[edge].element[0];
  int local = mesh->edges[edge].local[0];
  double xi, eta, xi_s, eta_s, s = at_end ? 1.0 : -1.0;
  cavum_element_edge_point(&xi, &eta, &mesh->elements[e], local, s);
  cavum_element_edge_direction(&xi_s, &eta_s, &mesh->elements[e], local);
  cavum_map_point map = cavum_element_map_at(mesh, e, xi, eta);
  double z = map.z_xi * xi_s + map.z_eta * eta_s, r = map.r_xi * xi_s + map.r_eta * eta_s;
  return (ray){true, mesh->edges[edge].boundary, at_end ? -z : z, at_end ? -r : r};
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

// Interior angle, counterclockwise from the edge that leaves the vertex to the one that arrives.
static double interior_angle(const ray *leaving, const ray *arriving) {
  double angle = atan2(arriving->r, arriving->z) - atan2(leaving->r, leaving->z);
  return angle <= 0.0 ? angle + 2.0 * CAVUM_PI : angle;
}

static void collect_rays(ray *leaving, ray *arriving, const cavum_mesh *mesh) {
  for (cavum_index edge = 0; edge < mesh->num_edges; edge++) {
    if (mesh->edges[edge].element[1] >= 0) continue;
    cavum_index from, to;
    cavum_topology_boundary_ends(&from, &to, mesh, edge);
    leaving[from] = ray_from(mesh, edge, false);
    arriving[to] = ray_from(mesh, edge, true);
  }
}

cavum_status cavum_surface_list_corners(cavum_mesh_boundary *boundary, const cavum_mesh *mesh,
                                        cavum_error *error) {
  ray *leaving = cavum_alloc(2 * (int64_t)mesh->num_vertices, sizeof *leaving);
  free(boundary->corners);
  boundary->num_corners = 0;
  boundary->corners = cavum_alloc(mesh->num_vertices, sizeof *boundary->corners);
  if (!leaving || !boundary->corners) {
    free(leaving);
    return cavum_fail_memory(error);
  }
  ray *arriving = leaving + mesh->num_vertices;
  collect_rays(leaving, arriving, mesh);
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    if (!leaving[v].present || !arriving[v].present) continue;
    boundary->corners[boundary->num_corners++] =
        (cavum_boundary_corner){.at = mesh->vertices[v],
                                .before = arriving[v].boundary,
                                .after = leaving[v].boundary,
                                .interior_rad = interior_angle(&leaving[v], &arriving[v])};
  }
  free(leaving);
  return CAVUM_OK;
}

double cavum_surface_weakest_exponent(const cavum_view *view) {
  double weakest = 1.0;
  for (cavum_index i = 0; i < view->boundary->num_corners; i++) {
    const cavum_boundary_corner *c = &view->boundary->corners[i];
    if (c->before == CAVUM_BOUNDARY_AXIS || c->after == CAVUM_BOUNDARY_AXIS) continue;
    bool mixed = is_zero_boundary(c->before, view) != is_zero_boundary(c->after, view);
    weakest = cavum_min(weakest, (mixed ? 0.5 : 1.0) * CAVUM_PI / c->interior_rad);
  }
  return weakest;
}

bool cavum_surface_find_sharp_corner(cavum_point *corner, const cavum_view *view) {
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
