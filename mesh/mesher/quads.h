// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/quads.h
 * Quadrilaterals with sides on exact curves: what the mesher works on before it hands out a mesh.
 */
#ifndef CAVUM_MESHER_QUADS_H
#define CAVUM_MESHER_QUADS_H

#include "mesher/patches.h"

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

/**
 * Divides each quadrilateral patch into four and each triangle into three.
 *
 * Sides are divided in the middle and patches at their centre, so the result fits together.
 *
 * @param[out] quads    Emptied first.
 * @param[in]  patches  Coarse mesh.
 * @param[in]  contour  Its contour; borrowed by the result.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_quads_from_patches(cavum_quads *quads, const cavum_patches *patches,
                                      const cavum_contour *contour, cavum_error *error);

/**
 * Divides every quadrilateral into parts x parts; parts below 2 change nothing.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_quads_split(cavum_quads *quads, int parts, cavum_error *error);

/** Point of the blended map of a quadrilateral at (xi, eta) in [-1, 1]^2. */
cavum_point cavum_quads_map(const cavum_quads *quads, const cavum_quad *quad, double xi,
                            double eta);

/** Shape of a quadrilateral on a grid of n x n equidistant points, corners included; n <= 8. */
cavum_quad_shape cavum_quads_measure(const cavum_quads *quads, const cavum_quad *quad, int n);

#endif
