// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/quads.h
 * Quadrilaterals with sides on exact curves: what the mesher works on before it hands out a mesh.
 */
#ifndef CAVUM_MESHER_QUADS_H
#define CAVUM_MESHER_QUADS_H

#include "cavum/mesh.h"

/** A quadrilateral, counterclockwise; side k runs from corner k to corner k + 1. */
typedef struct cavum_quad {
  cavum_index vertex[4];
  cavum_index curve[4]; /**< Curve under side k, or -1: straight, inside the domain. */
  double t[4][2];       /**< Curve parameter at the ends of side k, where curve[k] >= 0. */
} cavum_quad;

/** A mesh of quadrilaterals. */
typedef struct cavum_quads {
  const cavum_contour *contour; /**< Borrowed. */
  cavum_index num_vertices;
  int64_t vertex_capacity;
  cavum_point *vertices; /**< Owned, shape [num_vertices]. */
  cavum_index num_quads;
  int64_t quad_capacity;
  cavum_quad *quads; /**< Owned, shape [num_quads]. */
} cavum_quads;

/** Worst values of one quadrilateral over a grid of points. */
typedef struct cavum_quad_shape {
  double scaled_jacobian; /**< min det J over max det J; <= 0 when folded. */
  double sine;            /**< min of det J over the product of the lengths of its columns. */
} cavum_quad_shape;

/** Frees all that the quadrilaterals own and empties them; NULL is accepted. */
void cavum_quads_clear(cavum_quads *quads);

/** Adds a vertex; its index, or -1 without memory. */
cavum_index cavum_quads_add_vertex(cavum_quads *quads, cavum_point point);

/** Adds a quadrilateral; false without memory. */
bool cavum_quads_add(cavum_quads *quads, const cavum_quad *quad);

/** Point of the blended map of a quadrilateral at (xi, eta) in [-1, 1]^2. */
cavum_point cavum_quads_map(const cavum_quads *quads, const cavum_quad *quad, double xi,
                            double eta);

/** Shape of a quadrilateral on a grid of n x n equidistant points, corners included; n <= 8. */
cavum_quad_shape cavum_quads_measure(const cavum_quads *quads, const cavum_quad *quad, int n);

#endif
