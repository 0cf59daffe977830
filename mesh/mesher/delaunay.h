// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/delaunay.h
 * Constrained Delaunay triangulation of a simple polygon, with points added inside.
 *
 * All decisions are made on a grid of integers 2^28 steps wide on which orientation and in-circle
 * tests are exact, so no input can confuse them; the coordinates given are kept beside it.
 */
#ifndef CAVUM_MESHER_DELAUNAY_H
#define CAVUM_MESHER_DELAUNAY_H

#include "cavum/contour.h"

/** A triangle, counterclockwise; its edge k runs from corner k to corner k + 1. */
typedef struct cavum_triangle {
  cavum_index vertex[3];
  cavum_index neighbour[3]; /**< Triangle across edge k, or -1 at the polygon. */
} cavum_triangle;

/** A point on the integer grid. */
typedef struct cavum_grid_point {
  int64_t x, y;
} cavum_grid_point;

/** A triangulation. Points [0, num_boundary) are the polygon, in order; the others lie inside. */
typedef struct cavum_triangulation {
  cavum_index num_boundary;
  cavum_index num_points;
  int64_t point_capacity;
  cavum_point *points; /**< Owned, shape [num_points]. */
  int64_t grid_capacity;
  cavum_grid_point *grid; /**< Owned, shape [num_points]: points, rounded. */
  cavum_index num_triangles;
  int64_t triangle_capacity;
  cavum_triangle *triangles; /**< Owned, shape [num_triangles]. */
  cavum_point origin;        /**< Of the grid. */
  double steps_per_m;        /**< Grid steps in a metre. */
} cavum_triangulation;

/** Frees all that a triangulation owns and empties it; NULL is accepted. */
void cavum_delaunay_clear(cavum_triangulation *mesh);

/**
 * Looks for two polygon edges that touch without being neighbours, or that fold back on their
 * neighbour; edge k runs from point k to point k + 1.
 *
 * @param[out] first, second  The two edges, second after first; untouched when there are none.
 * @param[in]  mesh           Polygon set (cavum_delaunay_set_polygon()).
 * @param[in]  start          Edges before this one are not looked at as the first of two.
 * @return true when there are such edges.
 */
bool cavum_delaunay_find_crossing(cavum_index *first, cavum_index *second,
                                  const cavum_triangulation *mesh, cavum_index start);

/**
 * Takes a polygon, counterclockwise, and puts it on the grid; no triangles yet.
 * @param[out] mesh    Emptied first; cavum_delaunay_clear() releases it.
 * @param[in]  count   At least 3.
 * @param[in]  points  Shape [count].
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_delaunay_set_polygon(cavum_triangulation *mesh, cavum_index count,
                                        const cavum_point *points, cavum_error *error);

/**
 * Triangulates the polygon: ears are cut, then edges are flipped until all are Delaunay.
 * @param[in,out] mesh   Polygon without crossings.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_MESH    the polygon crosses itself or is not counterclockwise.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_delaunay_triangulate(cavum_triangulation *mesh, cavum_error *error);

/**
 * Triangle that holds a point, found by walking from `start`; -1 when a polygon edge is hit, and
 * for places that are no numbers.
 */
cavum_index cavum_delaunay_locate(const cavum_triangulation *mesh, cavum_index start,
                                  cavum_point point);

/**
 * Adds a point strictly inside the polygon and restores the Delaunay property.
 *
 * @param[in,out] mesh      Triangulated.
 * @param[out]    added     False when the point falls on a point or polygon edge: nothing is done.
 * @param[in]     triangle  Result of cavum_delaunay_locate().
 * @param[in]     point     The point.
 * @param[out]    error     May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_delaunay_insert(cavum_triangulation *mesh, bool *added, cavum_index triangle,
                                   cavum_point point, cavum_error *error);

/** Next triangle counterclockwise around a corner of t, or -1 at the polygon. */
cavum_index cavum_delaunay_next_around(const cavum_triangulation *mesh, cavum_index t,
                                       cavum_index point);

/** Edge of a triangle beyond which a neighbour lies. */
int cavum_delaunay_edge_towards(const cavum_triangle *triangle, cavum_index neighbour);

/** True when the two triangles at edge k of t form a strictly convex quadrilateral. */
bool cavum_delaunay_can_flip(const cavum_triangulation *mesh, cavum_index t, int k);

/** Turns the edge k of t; cavum_delaunay_can_flip() must hold. */
void cavum_delaunay_flip(cavum_triangulation *mesh, cavum_index t, int k);

/** Flips until all edges inside are Delaunay. */
void cavum_delaunay_legalize_all(cavum_triangulation *mesh);

/**
 * Moves an inner point if all triangles around it stay counterclockwise; else leaves it.
 * @param[in,out] mesh   Triangulated.
 * @param[in]     point  Index, >= num_boundary.
 * @param[in]     place  New place.
 * @param[in]     start  A triangle at the point.
 * @return true when it was moved.
 */
bool cavum_delaunay_move(cavum_triangulation *mesh, cavum_index point, cavum_point place,
                         cavum_index start);

#endif
