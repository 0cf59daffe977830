// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/topology.h
 * Edges of a mesh from the corners of its elements.
 */
#ifndef CAVUM_ELEMENT_TOPOLOGY_H
#define CAVUM_ELEMENT_TOPOLOGY_H

#include "cavum/mesh.h"

/**
 * Builds mesh->edges and the edge members of the elements from elements[].{num_corners, vertex}.
 *
 * Edges are numbered in the order in which elements and their local edges name them first, so the
 * result depends on the elements alone. Boundary kinds are NONE and curves -1 afterwards.
 *
 * @param[in,out] mesh   Vertices and elements filled in; old edges are freed.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_MESH    an edge belongs to more than two elements, or two elements run along it
 *                           in the same direction.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_topology_build_edges(cavum_mesh *mesh, cavum_error *error);

/** Local corner at the end of local edge k: the corner after corner k. */
static inline int cavum_topology_next_corner(const cavum_element *element, int k) {
  return k + 1 < element->num_corners ? k + 1 : 0;
}

/** Vertices at the start and end of a boundary edge in the direction that has the inside on the
 * left. */
static inline void cavum_topology_boundary_ends(cavum_index *from, cavum_index *to,
                                                const cavum_mesh *mesh, cavum_index edge) {
  const cavum_element *element = &mesh->elements[mesh->edges[edge].element[0]];
  int local = mesh->edges[edge].local[0];
  *from = element->vertex[local];
  *to = element->vertex[cavum_topology_next_corner(element, local)];
}

#endif
