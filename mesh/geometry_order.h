// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file geometry_order.h
 * The same mesh with another geometry order, to see how much the shape of a mesh file is worth.
 */
#ifndef CAVUM_GEOMETRY_ORDER_H
#define CAVUM_GEOMETRY_ORDER_H

#include "cavum/mesh.h"

/**
 * A mesh of nodes with its geometry one order apart: order g - 1 for g > 1, by sampling the map on
 * the lower lattice; order 2 for g = 1, with the middle nodes of metal edges moved to the circle
 * that the neighbouring edges suggest (turns above 30 degrees are real corners and stay).
 *
 * @param[out] other   Owned by the caller; untouched unless CAVUM_OK.
 * @param[out] differs  False when the variant is the same shape: a straight-sided mesh whose walls
 *                      are straight.
 * @param[in]  mesh     node_order >= 1.
 */
cavum_status cavum_mesh_make_geometry_variant(cavum_mesh *other, bool *differs,
                                              const cavum_mesh *mesh, cavum_error *error);

#endif
