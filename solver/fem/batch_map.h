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

/** Radius and derivatives at the points of a batch, [cavum_reference_points()]; metres. */
typedef struct cavum_batch_map {
  cavum_lanes r[CAVUM_GRID_MOST];
  cavum_lanes z_xi[CAVUM_GRID_MOST], r_xi[CAVUM_GRID_MOST];
  cavum_lanes z_eta[CAVUM_GRID_MOST], r_eta[CAVUM_GRID_MOST];
} cavum_batch_map;

/**
 * The functions of the nodes of triangles at the points of the rule, which all triangles share:
 * values, then derivatives along xi and eta.
 * @param[in,out] lattice  Shape [triangle_points][3][nodes]: one that is there is replaced.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_batch_map_tabulate(double **lattice, const cavum_mesh *mesh,
                                      const cavum_reference *reference, cavum_error *error);

/**
 * Evaluates the maps of all lanes; those that are left hold the last element again.
 * @param[out] map  Large (about 200 kB): only the points of the rule are written.
 */
void cavum_batch_map_fill(cavum_batch_map *map, const cavum_discretisation *discretisation,
                          const cavum_batch *batch);

#endif
