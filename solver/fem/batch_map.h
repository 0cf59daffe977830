// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/batch_map.h
 * The element maps of a batch at the quadrature points, one element to a lane.
 */
#ifndef CAVUM_FEM_BATCH_MAP_H
#define CAVUM_FEM_BATCH_MAP_H

#include "fem/discretisation.h"

/** Points of the largest quadrature rule. */
enum { CAVUM_GRID_MOST = CAVUM_POINTS_MOST * CAVUM_POINTS_MOST };

/** Radius and derivatives at the points of a batch, [cavum_reference_points()] each; metres. */
typedef struct cavum_batch_map {
  cavum_lanes *r, *z_xi, *r_xi, *z_eta, *r_eta; /**< Borrowed. */
} cavum_batch_map;

/** Numbers of a map at a point. */
enum { CAVUM_MAP_PARTS = 5 };

/** Room for the map of any batch: large (about 200 kB), only the points of the rule are used. */
typedef struct cavum_batch_map_room {
  cavum_lanes parts[CAVUM_MAP_PARTS * CAVUM_GRID_MOST];
} cavum_batch_map_room;

/** The map of a batch of so many points in room for [CAVUM_MAP_PARTS][points] of them. */
static inline cavum_batch_map cavum_batch_map_in(cavum_lanes *room, int points) {
  return (cavum_batch_map){room, room + points, room + 2 * points, room + 3 * points,
                           room + 4 * points};
}

/**
 * The functions of the nodes of triangles at the points of the rule, which all triangles share:
 * values, then derivatives along xi and eta.
 * @param[in,out] lattice  Shape [triangle_points][3][nodes]: one that is there is replaced.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_batch_map_tabulate(double **lattice, const cavum_mesh *mesh,
                                      const cavum_reference *reference, cavum_error *error);

/** Evaluates the maps of all lanes; those that are left hold the last element again. */
void cavum_batch_map_fill(const cavum_batch_map *map, const cavum_discretisation *discretisation,
                          const cavum_batch *batch);

/** The map of a batch: that which is kept, or in the room. */
cavum_batch_map cavum_batch_map_of(cavum_batch_map_room *room,
                                   const cavum_discretisation *discretisation,
                                   const cavum_batch *batch);

#endif
