// SPDX-License-Identifier: GPL-3.0-or-later
// How good a mesh is: Jacobians on a dense lattice and the angles at the corners.
#include "element/mesh_quality.h"

#include "base/base.h"
#include "element/element_map.h"

// Points a side, less one, for a blended element: arcs turn by pi/4 or so, and 17 points resolve
// the Jacobian of that to a fraction of a percent.
enum { BLENDED_STEPS = 16, MOST_STEPS = 2 * CAVUM_MAP_LARGEST_ORDER };

static void widen(double *smallest, double *largest, double value) {
  *smallest = cavum_min(*smallest, value);
  *largest = cavum_max(*largest, value);
}

// True when every node stands where linear or bilinear interpolation of the corners puts it, to
// rounding: then the corners tell the whole range of det J, which is constant or linear.
static bool is_straight(const cavum_mesh *mesh, const cavum_element *element) {
  int g = mesh->node_order, n = element->num_corners;
  if (g == 1) return true;
  const cavum_point *nodes = &mesh->nodes[element->first_node];
  cavum_point a = nodes[0], b = nodes[g];
  cavum_point c = nodes[n == 3 ? (g + 1) * (g + 2) / 2 - 1 : (g + 1) * g];
  cavum_point d = n == 3 ? a : nodes[(g + 1) * (g + 1) - 1];
  double size =
      fabs(b.z_m - a.z_m) + fabs(b.r_m - a.r_m) + fabs(c.z_m - a.z_m) + fabs(c.r_m - a.r_m);
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i <= (n == 3 ? g - j : g); i++, nodes++) {
      double x = (double)i / g, y = (double)j / g, xy = n == 3 ? 0.0 : x * y;
      double wa = 1.0 - x - y + xy, wb = x - xy, wc = y - xy;
      double dz = wa * a.z_m + wb * b.z_m + wc * c.z_m + xy * d.z_m - nodes->z_m;
      double dr = wa * a.r_m + wb * b.r_m + wc * c.r_m + xy * d.r_m - nodes->r_m;
      if (fabs(dz) + fabs(dr) > 1e-10 * size) return false;
    }
  }
  return true;
}

static void range_of_corners(double *smallest, double *largest, const cavum_mesh *mesh,
                             cavum_index e) {
  const cavum_element *element = &mesh->elements[e];
  for (int k = 0; k < element->num_corners; k++) {
    double scale = element->num_corners == 3 ? 1.0 : 0.25;
    const cavum_point *at = &mesh->vertices[element->vertex[k]];
    const cavum_point *next = &mesh->vertices[element->vertex[(k + 1) % element->num_corners]];
    const cavum_point *last =
        &mesh->vertices[element->vertex[(k + element->num_corners - 1) % element->num_corners]];
    widen(smallest, largest,
          scale * ((next->z_m - at->z_m) * (last->r_m - at->r_m) -
                   (next->r_m - at->r_m) * (last->z_m - at->z_m)));
  }
}

static void range_of_quadrilateral(double *smallest, double *largest, const cavum_mesh *mesh,
                                   cavum_index e, int steps) {
  cavum_map_point points[(MOST_STEPS + 1) * (MOST_STEPS + 1)];
  double x[MOST_STEPS + 1] = {0};
  for (int i = 0; i <= steps; i++) x[i] = -1.0 + 2.0 * i / steps;
  cavum_element_map_tensor(points, mesh, e, steps + 1, x);
  for (int i = 0; i < (steps + 1) * (steps + 1); i++) {
    widen(smallest, largest, cavum_map_jacobian(&points[i]));
  }
}

static void range_of_triangle(double *smallest, double *largest, const cavum_mesh *mesh,
                              cavum_index e, int steps) {
  for (int j = 0; j <= steps; j++) {
    for (int i = 0; i <= steps - j; i++) {
      cavum_map_point point = cavum_element_map_at(mesh, e, (double)i / steps, (double)j / steps);
      widen(smallest, largest, cavum_map_jacobian(&point));
    }
  }
}

void cavum_mesh_quality_jacobian_range(double *smallest, double *largest, const cavum_mesh *mesh,
                                       cavum_index element) {
  double low = INFINITY, high = -INFINITY;
  if (mesh->node_order > 0 && is_straight(mesh, &mesh->elements[element])) {
    range_of_corners(&low, &high, mesh, element);
  } else if (mesh->elements[element].num_corners == 3) {
    range_of_triangle(&low, &high, mesh, element, 2 * mesh->node_order);
  } else {
    int steps = mesh->node_order > 0 ? 2 * mesh->node_order : BLENDED_STEPS;
    range_of_quadrilateral(&low, &high, mesh, element, steps);
  }
  *smallest = low;
  *largest = high;
}

// Tangent of local edge k at its start (s = -1) or end (s = 1), in the sense of travel.
static cavum_point edge_tangent(const cavum_mesh *mesh, cavum_index e, int k, double s) {
  double xi, eta, xi_s, eta_s;
  cavum_element_edge_point(&xi, &eta, &mesh->elements[e], k, s);
  cavum_element_edge_direction(&xi_s, &eta_s, &mesh->elements[e], k);
  cavum_map_point at = cavum_element_map_at(mesh, e, xi, eta);
  return (cavum_point){at.z_xi * xi_s + at.z_eta * eta_s, at.r_xi * xi_s + at.r_eta * eta_s};
}

// Interior angle at corner k, in [0, 2 pi).
static double corner_angle(const cavum_mesh *mesh, cavum_index e, int k) {
  int n = mesh->elements[e].num_corners;
  cavum_point out = edge_tangent(mesh, e, k, -1.0),
              in = edge_tangent(mesh, e, (k + n - 1) % n, 1.0);
  double cross = out.r_m * in.z_m - out.z_m * in.r_m;  // out x (-in)
  double dot = -(out.z_m * in.z_m + out.r_m * in.r_m);
  double angle = atan2(cross, dot);
  return angle < 0.0 ? angle + 2.0 * CAVUM_PI : angle;
}

cavum_mesh_quality cavum_mesh_measure_quality(const cavum_mesh *mesh) {
  cavum_mesh_quality quality = {INFINITY, -1, INFINITY, -INFINITY};
  for (cavum_index e = 0; mesh && e < mesh->num_elements; e++) {
    double smallest, largest;
    cavum_mesh_quality_jacobian_range(&smallest, &largest, mesh, e);
    // An element that is inverted everywhere has largest <= 0: its ratio would look healthy.
    double scaled = largest > 0.0 ? smallest / largest : -1.0;
    if (scaled < quality.smallest_scaled_jacobian) {
      quality.smallest_scaled_jacobian = scaled;
      quality.worst_element = e;
    }
    for (int k = 0; k < mesh->elements[e].num_corners; k++) {
      widen(&quality.smallest_angle_rad, &quality.largest_angle_rad, corner_angle(mesh, e, k));
    }
  }
  return quality;
}
