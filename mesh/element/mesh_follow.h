// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/mesh_follow.h
 * Fitting a mesh to a neighbouring contour: the topology stays, vertices move.
 */
#ifndef CAVUM_ELEMENT_MESH_FOLLOW_H
#define CAVUM_ELEMENT_MESH_FOLLOW_H

#include <stdbool.h>

#include "base/lanes.h"
#include "cavum/mesh.h"

/** Shape of one element of the base, at its corners and its centre. */
typedef struct cavum_follow_shape {
  double jacobian_ratio; /**< Least over largest det J. */
  double sine;           /**< Least det J over the product of the lengths of its columns. */
} cavum_follow_shape;

/** A mesh of exact curves and what is needed to move it. */
typedef struct cavum_mesh_follower {
  cavum_mesh base; /**< Owned. */
  cavum_index num_free;
  cavum_index *free_vertex;     /**< Owned, [num_free]: vertices inside the domain. */
  cavum_index *nearest;         /**< Owned, [num_free]: vertices on curves they begin with. */
  cavum_index *first_neighbour; /**< Owned, [num_free + 1]. */
  cavum_index *neighbour;       /**< Owned: vertices joined by an edge. */
  double *weight;               /**< Owned: of each neighbour, sum 1: inverse edge lengths. */
  cavum_point *move;            /**< Owned, [num_vertices]: workspace. */
  cavum_follow_shape *shape;    /**< Owned, [num_elements]. */
} cavum_mesh_follower;

/**
 * Takes a copy of a mesh as the base.
 * @param[out] follower  Untouched unless CAVUM_OK; release with cavum_mesh_follower_clear().
 * @param[in]  mesh      node_order 0.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mesh_follower_create(cavum_mesh_follower *follower, const cavum_mesh *mesh,
                                        cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mesh_follower_clear(cavum_mesh_follower *follower);

/**
 * Fits the base to a contour: vertices on curves go to the same parameter of the same curve, those
 * inside follow like a membrane, next to a place on a curve as that place does.
 *
 * @param[in,out] mesh      A copy of the base or of an earlier fit; curves and vertices are
 *                          replaced.
 * @param[in]     follower  The base.
 * @param[in]     contour   Any.
 * @return false when the contour is not made of the same pieces or an element would become clearly
 *         worse than it is in the base; the mesh is not to be used then.
 */
bool cavum_mesh_follow(cavum_mesh *mesh, cavum_mesh_follower *follower,
                       const cavum_contour *contour);

/**
 * The transpose of how vertices inside follow those on curves.
 * @param[in,out] by  Derivatives of CAVUM_LANES / 2 figures by the positions of all vertices, z and
 *                    r of each, shape [num_vertices]: those of the vertices inside are moved to the
 *                    others.
 */
void cavum_mesh_follower_transpose(cavum_lanes *by, const cavum_mesh_follower *follower);

/** The same of half as many figures. */
void cavum_mesh_follower_transpose_half(cavum_half *by, const cavum_mesh_follower *follower);

#endif
