// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file curved_mesh.h
 * Meshes for tests whose nodes, of any order, lie on exact curves: rings of elements around a core,
 * with a wall and interfaces between materials that are circles, ellipses, egg curves or
 * rectangles; and the meshes of contours with nodes. Quadrilaterals, or triangles in pairs.
 */
#ifndef CAVUM_TEST_CURVED_MESH_H
#define CAVUM_TEST_CURVED_MESH_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cavum/mesh.h"
#include "element/element_map.h"
#include "element/topology.h"

enum { CURVED_LARGEST_ORDER = 10, CURVED_LAYERS = 4, CURVED_ELEMENTS = 6000 };

/** Ends the program, a test or a benchmark, with what is wrong. */
static inline void curved_require(bool condition, const char *what) {
  if (condition) return;
  fprintf(stderr, "curved mesh: %s\n", what);
  abort();
}

/** A mesh under construction; finish with curved_finish(). */
typedef struct curved_mesh {
  cavum_mesh mesh;
  bool triangles;
} curved_mesh;

static inline curved_mesh curved_start(int order, bool triangles, int regions) {
  static const char *const names[] = {"inner", "outer"};
  curved_mesh made = {.triangles = triangles, .mesh = {.node_order = order}};
  cavum_mesh *mesh = &made.mesh;
  mesh->elements = calloc(CURVED_ELEMENTS, sizeof *mesh->elements);
  mesh->vertices = calloc(4 * (size_t)CURVED_ELEMENTS, sizeof *mesh->vertices);
  mesh->nodes =
      calloc((size_t)CURVED_ELEMENTS * (size_t)((order + 1) * (order + 1)), sizeof *mesh->nodes);
  mesh->regions = calloc((size_t)regions, sizeof *mesh->regions);
  mesh->num_regions = regions;
  for (int i = 0; i < regions; i++) {
    mesh->regions[i] = (cavum_region){.eps_r = 1.0, .mu_r = 1.0, .name = calloc(16, 1)};
    snprintf(mesh->regions[i].name, 16, "%s", names[i]);
  }
  return made;
}

static inline cavum_index curved_vertex(cavum_mesh *mesh, cavum_point at) {
  for (cavum_index v = 0; v < mesh->num_vertices; v++) {
    const cavum_point *known = &mesh->vertices[v];
    if (fabs(known->z_m - at.z_m) + fabs(known->r_m - at.r_m) < 1e-9) return v;
  }
  mesh->vertices[mesh->num_vertices] = at;
  return mesh->num_vertices++;
}

/** Adds an element whose lattice node (i, j) is that of a quadrilateral's lattice at corner + the
 * steps x and y. */
static inline void curved_add_element(curved_mesh *to, const cavum_point *lattice, int corners,
                                      cavum_index region, int corner, int x, int y) {
  cavum_mesh *mesh = &to->mesh;
  int g = mesh->node_order;
  curved_require(mesh->num_elements < CURVED_ELEMENTS, "too many elements");
  cavum_element *element = &mesh->elements[mesh->num_elements++];
  *element =
      (cavum_element){.num_corners = corners, .region = region, .first_node = mesh->num_nodes};
  const int at[4] = {corner, corner + g * x, corner + g * (corners == 4 ? x + y : y),
                     corner + g * y};
  for (int k = 0; k < corners; k++) element->vertex[k] = curved_vertex(mesh, lattice[at[k]]);
  for (int j = 0; j <= g; j++) {
    for (int i = 0; i <= (corners == 4 ? g : g - j); i++) {
      mesh->nodes[mesh->num_nodes++] = lattice[corner + i * x + j * y];
    }
  }
}

/** Adds a quadrilateral, or two triangles, from its lattice of nodes, row by row. */
static inline void curved_add(curved_mesh *to, const cavum_point *lattice, cavum_index region) {
  int g = to->mesh.node_order, row = g + 1;
  if (!to->triangles) {
    curved_add_element(to, lattice, 4, region, 0, 1, row);
    return;
  }
  curved_add_element(to, lattice, 3, region, 0, 1, row);
  curved_add_element(to, lattice, 3, region, row * row - 1, -1, -row);
}

/** Builds the edges: those on r = 0 are the axis, all other ones of the outline metal. */
static inline cavum_mesh curved_finish(curved_mesh *made) {
  cavum_error error = {0};
  cavum_mesh *mesh = &made->mesh;
  cavum_status status = cavum_topology_build_edges(mesh, &error);
  curved_require(status == CAVUM_OK, error.message);
  for (cavum_index e = 0; e < mesh->num_edges; e++) {
    cavum_edge *edge = &mesh->edges[e];
    edge->curve = -1;
    if (edge->element[1] >= 0) continue;
    bool on_axis =
        mesh->vertices[edge->vertex[0]].r_m <= 0.0 && mesh->vertices[edge->vertex[1]].r_m <= 0.0;
    edge->boundary = on_axis ? CAVUM_BOUNDARY_AXIS : CAVUM_BOUNDARY_METAL;
  }
  return *mesh;
}

/** A curve from the axis at z > 0 over the top to the axis at z < 0. */
typedef struct curved_layer {
  enum { CURVED_ELLIPSE, CURVED_EGG, CURVED_RECTANGLE } shape;
  double axial_m, radial_m, offset_m; /**< Half axes or half sides; centre. */
} curved_layer;

/** Layers from the inside out; regions[k] is what layer k encloses. */
typedef struct curved_rings {
  int num_layers, edges_half_turn;
  curved_layer layer[CURVED_LAYERS];
  cavum_index region[CURVED_LAYERS];
  int num_regions, order;
  bool triangles;
  double uneven; /**< 0: equal steps; up to 0.3: steps grow and shrink by this part. */
} curved_rings;

/** Point of a layer in sector 0 (right), 1 (top) or 2 (left) at u in [0, 1]. */
static inline cavum_point curved_layer_at(const curved_rings *rings, const curved_layer *layer,
                                          int sector, double u) {
  int n = rings->edges_half_turn, side = (n + 2) / 4;
  const double pi = acos(-1.0), first[3] = {0.0, side, n - side};
  const double count[3] = {side, n - 2 * side, side};
  double part = (first[sector] + u * count[sector]) / n;
  double angle = pi * (part + rings->uneven / (2.0 * pi) * sin(4.0 * pi * part) / 2.0);
  if (layer->shape == CURVED_RECTANGLE) {
    double a = layer->axial_m, b = layer->radial_m;
    if (sector == 0) return (cavum_point){layer->offset_m + a, b * u};
    if (sector == 1) return (cavum_point){layer->offset_m + a - 2.0 * a * u, b};
    return (cavum_point){layer->offset_m - a, b * (1.0 - u)};
  }
  double egg = layer->shape == CURVED_EGG ? 1.0 + 0.25 * cos(angle) : 1.0;
  return (cavum_point){layer->offset_m + layer->axial_m * cos(angle),
                       layer->radial_m * egg * sin(angle)};
}

static inline cavum_point curved_core_at(const curved_rings *rings, int sector, double u) {
  const curved_layer *layer = &rings->layer[0];
  double corner_z = 0.6 * (curved_layer_at(rings, layer, 1, 0.0).z_m - layer->offset_m);
  double left_z = 0.6 * (curved_layer_at(rings, layer, 1, 1.0).z_m - layer->offset_m);
  double r0 = 0.6 * curved_layer_at(rings, layer, 1, 0.0).r_m;
  double r1 = 0.6 * curved_layer_at(rings, layer, 1, 1.0).r_m;
  if (sector == 0) return (cavum_point){layer->offset_m + corner_z, r0 * u};
  if (sector == 2) return (cavum_point){layer->offset_m + left_z, r1 * (1.0 - u)};
  return (cavum_point){layer->offset_m + corner_z + (left_z - corner_z) * u, r0 + (r1 - r0) * u};
}

static inline cavum_point curved_mix(cavum_point a, cavum_point b, double part) {
  double r = a.r_m + (b.r_m - a.r_m) * part;
  return (cavum_point){a.z_m + (b.z_m - a.z_m) * part, fabs(r) < 1e-12 ? 0.0 : r};
}

static inline void curved_add_core(curved_mesh *made, const curved_rings *rings) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  int n = rings->edges_half_turn, side = (n + 2) / 4, top = n - 2 * side, g = rings->order;
  for (int row = 0; row < side; row++) {
    for (int column = 0; column < top; column++) {
      for (int k = 0; k < (g + 1) * (g + 1); k++) {
        double u = (column + (double)(k % (g + 1)) / g) / top;
        double v = (row + (double)(k / (g + 1)) / g) / side;
        cavum_point right = curved_core_at(rings, 0, v), left = curved_core_at(rings, 2, 1.0 - v);
        lattice[k] = curved_mix(left, right, u);
      }
      curved_add(made, lattice, rings->region[0]);
    }
  }
}

static inline void curved_add_ring(curved_mesh *made, const curved_rings *rings, int outer,
                                   int sector) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  int n = rings->edges_half_turn, side = (n + 2) / 4, g = rings->order;
  int along = sector == 1 ? n - 2 * side : side, across = n > 8 ? 2 : 1;
  for (int cell = 0; cell < along * across; cell++) {
    for (int k = 0; k < (g + 1) * (g + 1); k++) {
      double v = (cell % across + (double)(k % (g + 1)) / g) / across;
      double u = (cell / across + (double)(k / (g + 1)) / g) / along;
      cavum_point inside = outer == 0 ? curved_core_at(rings, sector, u)
                                      : curved_layer_at(rings, &rings->layer[outer - 1], sector, u);
      lattice[k] = curved_mix(inside, curved_layer_at(rings, &rings->layer[outer], sector, u), v);
    }
    curved_add(made, lattice, rings->region[outer]);
  }
}

/** The mesh; clear it with cavum_mesh_clear(). */
static inline cavum_mesh curved_rings_mesh(const curved_rings *rings) {
  curved_mesh made = curved_start(rings->order, rings->triangles, rings->num_regions);
  curved_add_core(&made, rings);
  for (int layer = 0; layer < rings->num_layers; layer++) {
    for (int sector = 0; sector < 3; sector++) curved_add_ring(&made, rings, layer, sector);
  }
  return curved_finish(&made);
}

/** The mesh of a contour with nodes; boundaries are those of the contour. */
static inline cavum_mesh curved_contour_mesh(const cavum_contour *contour, double largest_turn_rad,
                                             int order, bool triangles, double refinement) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  cavum_mesh exact = {0};
  cavum_error error = {0};
  cavum_mesh_options options = cavum_mesh_options_default();
  options.largest_turn_rad = largest_turn_rad;
  options.refinement = refinement;
  cavum_status status = cavum_mesh_from_contour(&exact, contour, &options, &error);
  curved_require(status == CAVUM_OK, error.message);
  curved_mesh made = curved_start(order, triangles, 1);
  for (cavum_index e = 0; e < exact.num_elements; e++) {
    for (int k = 0; k < (order + 1) * (order + 1); k++) {
      cavum_map_point at = cavum_element_map_at(&exact, e, 2.0 * (k % (order + 1)) / order - 1.0,
                                                2.0 * (double)(k / (order + 1)) / order - 1.0);
      lattice[k] = (cavum_point){at.z, fabs(at.r) < 1e-12 ? 0.0 : at.r};
    }
    curved_add(&made, lattice, 0);
  }
  cavum_mesh mesh = curved_finish(&made);
  for (cavum_index e = 0; e < exact.num_edges; e++) {
    const cavum_edge *edge = &exact.edges[e];
    if (edge->boundary != CAVUM_BOUNDARY_ELECTRIC && edge->boundary != CAVUM_BOUNDARY_MAGNETIC) {
      continue;
    }
    cavum_index a = curved_vertex(&mesh, exact.vertices[edge->vertex[0]]);
    cavum_index b = curved_vertex(&mesh, exact.vertices[edge->vertex[1]]);
    for (cavum_index i = 0; i < mesh.num_edges; i++) {
      const cavum_index *ends = mesh.edges[i].vertex;
      bool same = (ends[0] == a && ends[1] == b) || (ends[0] == b && ends[1] == a);
      if (same) mesh.edges[i].boundary = edge->boundary;
    }
  }
  cavum_mesh_clear(&exact);
  return mesh;
}

/** A mesh of quadrilaterals with nodes of another order on the same straight sides, as a program
 * makes it that knows the mesh alone; the mesh that it is given is cleared. */
static inline cavum_mesh curved_of_straight_sides(cavum_mesh *mesh, int order, bool triangles) {
  cavum_point lattice[(CURVED_LARGEST_ORDER + 1) * (CURVED_LARGEST_ORDER + 1)];
  curved_require(mesh->node_order == 1, "straight sides are those of order 1");
  curved_mesh made = curved_start(order, triangles, (int)mesh->num_regions);
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    for (int k = 0; k < (order + 1) * (order + 1); k++) {
      cavum_map_point at = cavum_element_map_at(mesh, e, 2.0 * (k % (order + 1)) / order - 1.0,
                                                2.0 * (double)(k / (order + 1)) / order - 1.0);
      lattice[k] = (cavum_point){at.z, fabs(at.r) < 1e-12 ? 0.0 : at.r};
    }
    curved_add(&made, lattice, mesh->elements[e].region);
  }
  cavum_mesh straight = curved_finish(&made);
  for (cavum_index k = 0; k < mesh->num_regions; k++) {
    straight.regions[k].eps_r = mesh->regions[k].eps_r;
    straight.regions[k].mu_r = mesh->regions[k].mu_r;
  }
  cavum_mesh_clear(mesh);
  return straight;
}

#endif
