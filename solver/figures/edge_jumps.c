// SPDX-License-Identifier: GPL-3.0-or-later
// Jumps of the tangential E between elements. The normal D has none, since H_phi is continuous.
#include "figures/edge_jumps.h"

#include "base/base.h"
#include "element/element_map.h"

// Places on an edge, its ends among them.
enum { PLACES = 7 };

// Tangential E at one place of a local edge, counterclockwise.
static double tangential(const cavum_view *view, cavum_index e, int k, const double *local,
                         double s) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double xi, eta;
  cavum_element_edge_point(&xi, &eta, &mesh->elements[e], k, s);
  cavum_field_point at = cavum_field_at(&view->field, e, local, xi, eta);
  cavum_edge_position along = cavum_element_edge_at(mesh, e, k, s);
  return (at.e_z_v_per_m * along.z_x + at.e_r_v_per_m * along.r_x) / hypot(along.z_x, along.r_x);
}

// Of the neighbour, or of the image of the element; false where E may be tangential.
static bool has_other_side(const cavum_view *view, const cavum_edge *edge) {
  switch (edge->boundary) {
    case CAVUM_BOUNDARY_NONE:
      return edge->element[1] >= 0;
    case CAVUM_BOUNDARY_METAL:
    case CAVUM_BOUNDARY_ELECTRIC:
      return edge->element[1] < 0;
    case CAVUM_BOUNDARY_SYMMETRY:
      return view->parity == CAVUM_PARITY_EVEN;
    case CAVUM_BOUNDARY_MAGNETIC:
    case CAVUM_BOUNDARY_AXIS:
      break;
  }
  return false;
}

static double largest_jump(const cavum_view *view, const cavum_edge *edge) {
  double a[CAVUM_SHAPES_MOST], b[CAVUM_SHAPES_MOST], largest = 0.0;
  bool is_inside = edge->boundary == CAVUM_BOUNDARY_NONE;
  cavum_field_gather(a, &view->field, edge->element[0]);
  if (is_inside) cavum_field_gather(b, &view->field, edge->element[1]);
  for (int i = 0; i < PLACES; i++) {
    double s = 2.0 * i / (PLACES - 1) - 1.0;
    double here = tangential(view, edge->element[0], edge->local[0], a, s);
    // Both elements run counterclockwise, so in opposite directions along the edge.
    double there = is_inside ? tangential(view, edge->element[1], edge->local[1], b, -s) : here;
    largest = cavum_max(largest, fabs(here + there));
  }
  return largest;
}

void cavum_edge_jumps_measure(double *jump_v_per_m, const cavum_view *view) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  for (cavum_index e = 0; e < mesh->num_elements; e++) jump_v_per_m[e] = 0.0;
  for (cavum_index i = 0; i < mesh->num_edges; i++) {
    const cavum_edge *edge = &mesh->edges[i];
    if (!has_other_side(view, edge)) continue;
    double jump = largest_jump(view, edge);
    for (int k = 0; k < 2 && edge->element[k] >= 0; k++) {
      double *of = &jump_v_per_m[edge->element[k]];
      *of = cavum_max(*of, jump);
    }
  }
}
