// SPDX-License-Identifier: GPL-3.0-or-later
// The mesh of a file with its sides bent to the curves that are guessed behind them.
#include "element/curve_bend.h"

#include <string.h>

#include "base/base.h"
#include "element/mesh_quality.h"

// Bent elements keep this part at least of the smallest Jacobian over the largest one.
static const double QUALITY_LEAST = 0.3;
// The way is halved so many times before it is given up.
enum { HALVINGS = 8 };

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

// What an edge adds to a point (xi, eta) of an element: all of its way on the edge, nothing on the
// other edges, by the blending that is polynomial in both kinds of elements.
static cavum_point blended(const cavum_mesh *mesh, const cavum_curve_guess *guess,
                           cavum_index element, int k, double xi, double eta) {
  const cavum_element *shape = &mesh->elements[element];
  double s, weight;
  if (shape->num_corners == 4) {
    const double along[4] = {xi, eta, -xi, -eta}, off[4] = {eta, -xi, -eta, xi};
    s = along[k];
    weight = 0.5 * (1.0 - off[k]);
  } else {
    const double corner[3] = {1.0 - xi - eta, xi, eta};
    double a = corner[k], b = corner[(k + 1) % 3];
    s = b - a;
    weight = a > 0.0 && b > 0.0 ? 4.0 * a * b / (1.0 - s * s) : 0.0;
  }
  if (weight <= 0.0) return (cavum_point){0.0, 0.0};
  cavum_point way = cavum_curve_guess_at(guess, mesh, shape->edge[k], shape->reversed[k] ? -s : s);
  return (cavum_point){weight * way.z_m, weight * way.r_m};
}

static void bend_element(cavum_mesh *other, const cavum_mesh *mesh, const cavum_curve_guess *guess,
                         double part, cavum_index element) {
  const cavum_element *shape = &mesh->elements[element];
  int order = other->node_order;
  bool quad = shape->num_corners == 4;
  cavum_point *node = other->nodes + other->elements[element].first_node;
  for (int j = 0; j <= order; j++) {
    for (int i = 0; i <= (quad ? order : order - j); i++, node++) {
      double xi = quad ? 2.0 * i / order - 1.0 : (double)i / order;
      double eta = quad ? 2.0 * j / order - 1.0 : (double)j / order;
      cavum_map_point at = cavum_element_map_at(mesh, element, xi, eta);
      *node = (cavum_point){at.z, at.r};
      for (int k = 0; k < shape->num_corners; k++) {
        cavum_index edge = shape->edge[k];
        if (guess->edges[edge].fit.num_nodes == 0) continue;
        cavum_point way = blended(mesh, guess, element, k, xi, eta);
        node->z_m += part * way.z_m;
        node->r_m += part * way.r_m;
      }
    }
  }
}

cavum_status cavum_curve_bend(cavum_mesh *other, const cavum_mesh *mesh,
                              const cavum_curve_guess *guess, double part, cavum_error *error) {
  cavum_mesh made = {0};
  int order = mesh->node_order + CAVUM_GUESS_EXTRA;
  if (order > CAVUM_MAP_LARGEST_ORDER) order = CAVUM_MAP_LARGEST_ORDER;
  cavum_status status = copy_frame(&made, mesh, order, error);
  if (status != CAVUM_OK) {
    cavum_mesh_clear(&made);
    return status;
  }
  for (cavum_index e = 0; e < mesh->num_elements; e++) bend_element(&made, mesh, guess, part, e);
  *other = made;
  return CAVUM_OK;
}

static double quality_of(const cavum_mesh *mesh, cavum_index element) {
  double smallest, largest;
  cavum_mesh_quality_jacobian_range(&smallest, &largest, mesh, element);
  return largest > 0.0 ? smallest / largest : -1.0;
}

static bool folds(const cavum_mesh *bent, const cavum_mesh *mesh) {
  for (cavum_index e = 0; e < mesh->num_elements; e++) {
    if (quality_of(bent, e) < QUALITY_LEAST * quality_of(mesh, e)) return true;
  }
  return false;
}

cavum_status cavum_curve_bend_safely(cavum_mesh *other, double *part, const cavum_mesh *mesh,
                                     const cavum_curve_guess *guess, cavum_error *error) {
  cavum_mesh made = {0};
  double way = 1.0;
  for (int i = 0; i <= HALVINGS; i++, way *= 0.5) {
    cavum_status status = cavum_curve_bend(&made, mesh, guess, way, error);
    if (status != CAVUM_OK) return status;
    if (!folds(&made, mesh)) {
      *other = made;
      *part = way;
      return CAVUM_OK;
    }
    cavum_mesh_clear(&made);
  }
  *part = 0.0;
  return CAVUM_OK;
}
