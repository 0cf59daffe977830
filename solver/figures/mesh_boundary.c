// SPDX-License-Identifier: GPL-3.0-or-later
// Boundary edges in order, and the shapes of the conducting ones.
#include "figures/mesh_boundary.h"

#include <string.h>

#include "base/base.h"
#include "element/element_map.h"
#include "element/topology.h"
#include "fem/quadrature.h"

typedef struct boundary_walk {
  const cavum_mesh *mesh;
  cavum_index *edge_from;  // boundary edge that starts at a vertex (counterclockwise), or -1
  bool *taken;             // per edge
} boundary_walk;

static cavum_boundary_edge side_of(const cavum_mesh *mesh, cavum_index edge) {
  return (cavum_boundary_edge){mesh->edges[edge].element[0], mesh->edges[edge].local[0]};
}

static cavum_index side_vertex(const cavum_mesh *mesh, cavum_index edge, bool at_end) {
  cavum_index from, to;
  cavum_topology_boundary_ends(&from, &to, mesh, edge);
  return at_end ? to : from;
}

// Follows one closed boundary loop from an edge that starts a run of metal where there is one.
static void walk_loop(cavum_mesh_boundary *boundary, boundary_walk *walk, cavum_index first) {
  const cavum_mesh *mesh = walk->mesh;
  cavum_index edge = first;
  for (cavum_index steps = 0; steps < mesh->num_edges && !walk->taken[edge]; steps++) {
    walk->taken[edge] = true;
    if (mesh->edges[edge].boundary == CAVUM_BOUNDARY_METAL) {
      boundary->conducting[boundary->num_metal++] = side_of(mesh, edge);
    } else if (mesh->edges[edge].boundary == CAVUM_BOUNDARY_AXIS) {
      boundary->axis[boundary->num_axis++] = side_of(mesh, edge);
    }
    cavum_index next = walk->edge_from[side_vertex(mesh, edge, true)];
    if (next < 0) return;
    edge = next;
  }
}

// Lossless planes go behind the metal.
static void list_planes(cavum_mesh_boundary *boundary, const cavum_mesh *mesh) {
  boundary->num_conducting = boundary->num_metal;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].element[1] >= 0 || mesh->edges[e].boundary != CAVUM_BOUNDARY_ELECTRIC) {
      continue;
    }
    boundary->conducting[boundary->num_conducting++] = side_of(mesh, e);
  }
}

static bool is_empty_and_closed(const cavum_mesh *mesh) {
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    if (mesh->regions[i].eps_r != 1.0 || mesh->regions[i].mu_r != 1.0) return false;
  }
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    const cavum_edge *edge = &mesh->edges[e];
    if (edge->element[1] < 0 && edge->boundary == CAVUM_BOUNDARY_MAGNETIC) return false;
  }
  return true;
}

static bool has_mirror_plane(const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].boundary == CAVUM_BOUNDARY_SYMMETRY) return true;
  }
  return false;
}

static bool starts_metal_run(const cavum_mesh *mesh, const cavum_index *edge_to, cavum_index edge) {
  cavum_index before = edge_to[side_vertex(mesh, edge, false)];
  return mesh->edges[edge].boundary == CAVUM_BOUNDARY_METAL &&
         (before < 0 || mesh->edges[before].boundary != CAVUM_BOUNDARY_METAL);
}

static void sort_axis(cavum_mesh_boundary *boundary, const cavum_mesh *mesh) {
  for (cavum_index i = 1; i < boundary->num_axis; i++) {  // nearly sorted: runs follow each other
    cavum_boundary_edge edge = boundary->axis[i];
    double z = mesh->vertices[mesh->elements[edge.element].vertex[edge.local_edge]].z_m;
    cavum_index k = i;
    for (; k > 0; k--) {
      cavum_boundary_edge other = boundary->axis[k - 1];
      if (mesh->vertices[mesh->elements[other.element].vertex[other.local_edge]].z_m <= z) break;
      boundary->axis[k] = other;
    }
    boundary->axis[k] = edge;
  }
}

// Shape of an edge on an exact curve, straight from the curve.
static void shape_of_curve(cavum_wall_shape *shape, const double *sample, const cavum_mesh *mesh,
                           const cavum_element *element, int local) {
  const cavum_edge *edge = &mesh->edges[element->edge[local]];
  const cavum_curve *curve = &mesh->curves[edge->curve];
  int first = element->reversed[local] ? 1 : 0;
  double from = edge->t[first], to = edge->t[1 - first], t_s = 0.5 * (to - from);
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    double t = 0.5 * (1.0 - sample[k]) * from + 0.5 * (1.0 + sample[k]) * to;
    cavum_point at, along;
    cavum_curve_at(&at, &along, curve, t);
    shape->z_m[k] = at.z_m;
    shape->r_m[k] = at.r_m;
    shape->z_s[k] = t_s * along.z_m;
    shape->r_s[k] = t_s * along.r_m;
    shape->length_s[k] = fabs(t_s) * hypot(along.z_m, along.r_m);
  }
}

static void shape_of_map(cavum_wall_shape *shape, const double *sample, const cavum_mesh *mesh,
                         cavum_boundary_edge edge) {
  const cavum_element *element = &mesh->elements[edge.element];
  double xi, eta, xi_s, eta_s;
  cavum_element_edge_direction(&xi_s, &eta_s, element, edge.local_edge);
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    cavum_element_edge_point(&xi, &eta, element, edge.local_edge, sample[k]);
    cavum_map_point at = cavum_element_map_at(mesh, edge.element, xi, eta);
    shape->z_m[k] = at.z;
    shape->r_m[k] = at.r;
    shape->z_s[k] = at.z_xi * xi_s + at.z_eta * eta_s;
    shape->r_s[k] = at.r_xi * xi_s + at.r_eta * eta_s;
    shape->length_s[k] = hypot(shape->z_s[k], shape->r_s[k]);
  }
}

// How far an edge is from the axis, and what that says about all of them. One that begins close to
// the axis against its extent is as one that meets it.
static void finish_shape(cavum_mesh_boundary *boundary, cavum_wall_shape *shape) {
  const double close = 0.1, square = 1e-6;  // the latter of z over the length
  const int ends[2] = {0, CAVUM_WALL_SAMPLES - 1};
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    shape->log_r[k] = shape->r_m[k] > 0.0 ? log(shape->r_m[k]) : 0.0;
    boundary->longest_s = cavum_max(boundary->longest_s, shape->length_s[k]);
  }
  shape->largest_r_m = cavum_max(shape->r_m[ends[0]], shape->r_m[ends[1]]);
  shape->meets_axis = false;
  for (int i = 0; i < 2; i++) {
    int k = ends[i];
    if (shape->r_m[k] > close * shape->largest_r_m) continue;
    shape->meets_axis = true;
    bool squarely = fabs(shape->z_s[k]) <= square * shape->length_s[k];
    boundary->meets_axis_squarely = boundary->meets_axis_squarely && squarely;
  }
}

// The shape of an edge depends on the mesh alone, so it is evaluated once for all degrees.
static void fill_shapes(cavum_mesh_boundary *boundary, const cavum_mesh *mesh) {
  boundary->meets_axis_squarely = true;
  boundary->longest_s = 0.0;
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    cavum_boundary_edge edge = boundary->conducting[i];
    const cavum_element *element = &mesh->elements[edge.element];
    bool exact = mesh->node_order == 0 && mesh->edges[element->edge[edge.local_edge]].curve >= 0;
    if (exact) {
      shape_of_curve(&boundary->shape[i], boundary->sample, mesh, element, edge.local_edge);
    } else {
      shape_of_map(&boundary->shape[i], boundary->sample, mesh, edge);
    }
    finish_shape(boundary, &boundary->shape[i]);
  }
}

cavum_status cavum_mesh_boundary_refresh(cavum_mesh_boundary *boundary, const cavum_mesh *mesh,
                                         cavum_error *error) {
  fill_shapes(boundary, mesh);
  free(boundary->corners);
  boundary->corners = NULL;
  boundary->num_corners = 0;
  cavum_status status = cavum_corner_list(&boundary->corners, &boundary->num_corners, mesh, error);
  if (status != CAVUM_OK) return status;
  return cavum_corner_inner_exponent(&boundary->inner_exponent, mesh, error);
}

// Lists the edges of all loops: runs of metal from their start first, closed loops then.
static void walk_all(cavum_mesh_boundary *boundary, boundary_walk *walk, cavum_index *edge_to) {
  const cavum_mesh *mesh = walk->mesh;
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    if (mesh->edges[e].element[1] >= 0) continue;
    walk->edge_from[side_vertex(mesh, e, false)] = e;
    edge_to[side_vertex(mesh, e, true)] = e;
  }
  for (int pass = 0; pass < 2; pass++) {
    for (cavum_index e = 0; e < mesh->num_edges; e++) {
      if (mesh->edges[e].element[1] >= 0 || walk->taken[e]) continue;
      if (pass == 1 || starts_metal_run(mesh, edge_to, e)) walk_loop(boundary, walk, e);
    }
  }
}

static void set_samples(cavum_mesh_boundary *boundary) {
  boundary->sample[0] = -1.0;
  boundary->sample[CAVUM_WALL_SAMPLES - 1] = 1.0;
  cavum_quadrature_gauss(boundary->sample + 1, boundary->weight + 1, CAVUM_WALL_RULE);
}

cavum_status cavum_mesh_boundary_create(cavum_mesh_boundary *boundary, const cavum_mesh *mesh,
                                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mesh_boundary made = {0};
  cavum_index *links = cavum_alloc(2 * (int64_t)mesh->num_vertices, sizeof *links);
  boundary_walk walk = {mesh, links, cavum_alloc(mesh->num_edges, sizeof(bool))};
  made.conducting = cavum_alloc(mesh->num_edges, sizeof *made.conducting);
  made.axis = cavum_alloc(mesh->num_edges, sizeof *made.axis);
  if (!links || !walk.taken || !made.conducting || !made.axis) CAVUM_TRY(cavum_fail_memory(error));
  memset(links, 0xff, 2 * (size_t)mesh->num_vertices * sizeof *links);
  walk_all(&made, &walk, links + mesh->num_vertices);
  list_planes(&made, mesh);
  sort_axis(&made, mesh);
  made.is_empty_and_closed = is_empty_and_closed(mesh);
  made.has_mirror_plane = has_mirror_plane(mesh);
  made.shape = cavum_alloc(made.num_conducting, sizeof *made.shape);
  if (!made.shape) CAVUM_TRY(cavum_fail_memory(error));
  set_samples(&made);
  CAVUM_TRY(cavum_mesh_boundary_refresh(&made, mesh, error));
  *boundary = made;
done:
  free(links);
  free(walk.taken);
  if (status != CAVUM_OK) cavum_mesh_boundary_clear(&made);
  return status;
}

void cavum_mesh_boundary_clear(cavum_mesh_boundary *boundary) {
  if (!boundary) return;
  free(boundary->conducting);
  free(boundary->axis);
  free(boundary->shape);
  free(boundary->corners);
  memset(boundary, 0, sizeof *boundary);
}
