// SPDX-License-Identifier: GPL-3.0-or-later
// Meshes of another geometry order. The difference of a figure between the two is what the geometry
// of a mesh file leaves uncertain.
#include "element/geometry_order.h"

#include <string.h>

#include "base/base.h"
#include "element/element_map.h"
#include "element/topology.h"

static void *copy(const void *from, int64_t count, size_t size) {
  void *to = cavum_alloc(count, size);
  if (to && count > 0) memcpy(to, from, (size_t)count * size);
  return to;
}

// Everything but the nodes, with room for the nodes of the new order.
static cavum_status copy_frame(cavum_mesh *other, const cavum_mesh *mesh, int order,
                               cavum_error *error) {
  int64_t nodes = 0;
  *other = *mesh;
  other->node_order = order;
  other->num_curves = 0;
  other->curves = NULL;
  other->vertices = copy(mesh->vertices, mesh->num_vertices, sizeof *mesh->vertices);
  other->edges = copy(mesh->edges, mesh->num_edges, sizeof *mesh->edges);
  other->elements = copy(mesh->elements, mesh->num_elements, sizeof *mesh->elements);
  other->regions = cavum_alloc(mesh->num_regions, sizeof *mesh->regions);
  for (cavum_index e = 0; other->elements && e < mesh->num_elements; e++) {
    other->elements[e].first_node = (cavum_index)nodes;
    nodes += cavum_element_lattice_count(mesh->elements[e].num_corners, order);
  }
  other->num_nodes = (cavum_index)nodes;
  other->nodes = nodes <= INT32_MAX ? cavum_alloc(nodes, sizeof *other->nodes) : NULL;
  if (!other->vertices || !other->edges || !other->elements || !other->regions || !other->nodes) {
    return cavum_fail_memory(error);
  }
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    other->regions[i] = mesh->regions[i];
    other->regions[i].name = cavum_copy_text(mesh->regions[i].name);
  }
  return CAVUM_OK;
}

static void sample_nodes(cavum_mesh *other, const cavum_mesh *mesh) {
  int order = other->node_order;
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    bool quad = mesh->elements[e].num_corners == 4;
    cavum_point *node = other->nodes + other->elements[e].first_node;
    for (int j = 0; j <= order; j++) {
      for (int i = 0; i <= (quad ? order : order - j); i++, node++) {
        double a = (double)i / order, b = (double)j / order;
        cavum_map_point at =
            cavum_element_map_at(mesh, e, quad ? 2.0 * a - 1.0 : a, quad ? 2.0 * b - 1.0 : b);
        *node = (cavum_point){at.z, at.r};
      }
    }
  }
}

// Point of an edge at s in [-1, 1].
static cavum_point edge_at(const cavum_mesh *mesh, const cavum_edge *edge, double s) {
  double xi, eta;
  cavum_element_edge_point(&xi, &eta, &mesh->elements[edge->element[0]], edge->local[0], s);
  cavum_map_point at = cavum_element_map_at(mesh, edge->element[0], xi, eta);
  return (cavum_point){at.z, at.r};
}

// How much order k brings to the shape of an edge: the amplitude of the Chebyshev polynomial of
// degree k with the leading coefficient of the interpolant at k + 1 points, Delta^k / (k! (2 / k)^k
// 2^(k-1)).
static double edge_coefficient(const cavum_mesh *mesh, const cavum_edge *edge, int k) {
  double z = 0.0, r = 0.0, binomial = 1.0, scale = 0.5;
  for (int i = 0; i <= k; i++) {
    cavum_point at = edge_at(mesh, edge, -1.0 + 2.0 * i / k);
    z += binomial * at.z_m;
    r += binomial * at.r_m;
    binomial *= -(double)(k - i) / (i + 1);
    if (i > 0) scale *= 4.0 * i / k;
  }
  return hypot(z, r) / scale;
}

// The larger of two coefficients in turn: one of them may vanish by symmetry.
static double edge_coefficients(const cavum_mesh *mesh, const cavum_edge *edge, int k) {
  return cavum_max(edge_coefficient(mesh, edge, k), edge_coefficient(mesh, edge, k - 1));
}

double cavum_mesh_geometry_part(const cavum_mesh *mesh) {
  const double caution = 6.0;
  const int order = mesh->node_order;
  double sagittae = 0.0, weighted = 0.0, last = 0.0, before = 0.0;
  if (order == 1) return 2.0;
  if (order % 2) return 1.0;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->boundary != CAVUM_BOUNDARY_METAL) continue;
    double second = edge_coefficient(mesh, edge, 2);
    double part = second / edge_coefficient(mesh, edge, 1);  // sagitta / chord
    sagittae += second;
    weighted += second * part * part;
    if (order < 4) continue;
    last += edge_coefficients(mesh, edge, order);
    before += edge_coefficients(mesh, edge, order - 2);
  }
  double ratio = sagittae > 0.0 ? weighted / sagittae : 0.0;
  if (before > 0.0) ratio = cavum_max(ratio, last / before);
  return cavum_min(1.0, caution * ratio);
}

typedef struct wall_link {
  cavum_index before, after;  // metal edges that end and start at a vertex, or -1
} wall_link;

static cavum_point chord(const cavum_mesh *mesh, cavum_index edge) {
  cavum_index from, to;
  cavum_topology_boundary_ends(&from, &to, mesh, edge);
  return (cavum_point){mesh->vertices[to].z_m - mesh->vertices[from].z_m,
                       mesh->vertices[to].r_m - mesh->vertices[from].r_m};
}

static double length(cavum_point p) { return hypot(p.z_m, p.r_m); }

// Angle between an edge and the tangent at one of its ends: its share, by length, of the turn
// there.
static bool share_of_turn(double *share, const cavum_mesh *mesh, const wall_link *link,
                          bool of_after) {
  const double real_corner = CAVUM_PI / 6.0;
  if (link->before < 0 || link->after < 0) return false;
  cavum_point a = chord(mesh, link->before), b = chord(mesh, link->after);
  double turn = atan2(a.z_m * b.r_m - a.r_m * b.z_m, a.z_m * b.z_m + a.r_m * b.r_m);
  if (fabs(turn) > real_corner) return false;
  *share = turn * length(of_after ? b : a) / (length(a) + length(b));
  return true;
}

// How far the middle of a metal edge lies outside its chord; of a circle, h (first + last) / 8.
static double sagitta(const cavum_mesh *mesh, const wall_link *links, cavum_index edge) {
  cavum_index from, to;
  double first = 0.0, last = 0.0;
  cavum_topology_boundary_ends(&from, &to, mesh, edge);
  bool has_first = share_of_turn(&first, mesh, &links[from], true);
  bool has_last = share_of_turn(&last, mesh, &links[to], false);
  if (!has_first) first = last;  // at a real corner: the circle of the other end
  if (!has_last) last = first;
  return length(chord(mesh, edge)) * (first + last) / 8.0;
}

static int middle_node(int corners, int local) {
  static const int quad[4] = {1, 5, 7, 3}, triangle[3] = {1, 4, 3};
  return corners == 4 ? quad[local] : triangle[local];
}

static cavum_status bend_walls(cavum_mesh *other, bool *bent, const cavum_mesh *mesh,
                               cavum_error *error) {
  wall_link *links = cavum_alloc(mesh->num_vertices, sizeof *links);
  if (!links) return cavum_fail_memory(error);
  memset(links, 0xff, (size_t)mesh->num_vertices * sizeof *links);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].boundary != CAVUM_BOUNDARY_METAL) continue;
    cavum_index from, to;
    cavum_topology_boundary_ends(&from, &to, mesh, e);
    links[from].after = e;
    links[to].before = e;
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].boundary != CAVUM_BOUNDARY_METAL) continue;
    const cavum_element *element = &other->elements[mesh->edges[e].element[0]];
    cavum_point along = chord(mesh, e);
    double out = sagitta(mesh, links, e) / length(along);
    // Turns of a straight wall are rounding of its nodes.
    *bent = *bent || fabs(out) > 1e-12;
    cavum_point shift = {out * along.r_m, -out * along.z_m};  // outward: right of travel
    cavum_point *nodes = other->nodes + element->first_node;
    cavum_point *middle = &nodes[middle_node(element->num_corners, mesh->edges[e].local[0])];
    middle->z_m += shift.z_m;
    middle->r_m += shift.r_m;
    if (element->num_corners == 4) {  // transfinite centre: half of what its edges moved
      nodes[4].z_m += 0.5 * shift.z_m;
      nodes[4].r_m += 0.5 * shift.r_m;
    }
  }
  free(links);
  return CAVUM_OK;
}

cavum_status cavum_mesh_make_geometry_variant(cavum_mesh *other, bool *differs,
                                              const cavum_mesh *mesh, cavum_error *error) {
  if (!CAVUM_HOLDS(mesh->node_order >= 1))
    return cavum_fail_internal(error, "a mesh without nodes has no geometry variant");
  cavum_status status = CAVUM_OK;
  cavum_mesh made = {0};
  CAVUM_TRY(copy_frame(&made, mesh, mesh->node_order > 1 ? mesh->node_order - 1 : 2, error));
  sample_nodes(&made, mesh);
  bool bent = mesh->node_order > 1;
  if (mesh->node_order == 1) CAVUM_TRY(bend_walls(&made, &bent, mesh, error));
  *differs = bent;
  *other = made;
done:
  if (status != CAVUM_OK) cavum_mesh_clear(&made);
  return status;
}
