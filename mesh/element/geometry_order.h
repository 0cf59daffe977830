// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/geometry_order.h
 * The same mesh with another geometry order, to see how much the shape of a mesh file is worth.
 */
#ifndef CAVUM_ELEMENT_GEOMETRY_ORDER_H
#define CAVUM_ELEMENT_GEOMETRY_ORDER_H

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

/**
 * What part of the difference between a figure on a mesh and on its variant the mesh itself may be
 * wrong by: 0 < part <= 2.
 *
 * Order 1: the variant is a guess at the curved wall, so the difference is the error itself,
 * doubled for the quality of the guess. Odd orders above: a wall that is even about the middle of
 * an edge, as a circle is, gains nothing from an odd order, so the variant is as good as the
 * mesh: 1. Even orders: the variant has the error of the order before. Of a circle that turns by
 * theta along an edge it falls by about (theta / 8)^2, theta / 8 being the sagitta over the chord,
 * from one odd order to the next even one; of other walls from order 4 on as the coefficients of
 * the edges fall over two orders. The larger of the two, averaged over the metal edges by how far
 * they deviate, times 6, but not above 1: on a sphere and 15 two-ellipse cells with edges of 15 to
 * 45 degrees the error was 0.5 to 1.1 times the average in the median, 5 times at the most.
 */
double cavum_mesh_geometry_part(const cavum_mesh *mesh);

#endif
