// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/number.h
 * One number for each node of a mesh, shared by the elements that meet there: what a MSH file
 * needs.
 */
#ifndef CAVUM_MSH_NUMBER_H
#define CAVUM_MSH_NUMBER_H

#include "msh/type.h"

/** Entity of the boundary kind k: k - 1. Entity of region i: CAVUM_MSH_CURVES + i. */
enum { CAVUM_MSH_CURVES = CAVUM_BOUNDARY_SYMMETRY };

/** What belongs to one entity. */
typedef struct cavum_msh_extent {
  cavum_index num_nodes;
  cavum_index num_elements;  /**< Boundary edges, or triangles and quadrilaterals. */
  cavum_index num_triangles; /**< Of those, triangles. */
  cavum_point low, high;     /**< Corners of the smallest box around its elements' nodes. */
} cavum_msh_extent;

/**
 * Node numbers from 0: vertices as in the mesh, then order - 1 nodes along each edge in its own
 * sense, then the inner nodes element by element in lattice order.
 */
typedef struct cavum_msh_numbering {
  int order;
  cavum_index num_nodes;
  cavum_point *points; /**< Owned, shape [num_nodes], metres. */
  cavum_index *entity; /**< Owned, shape [num_nodes]: the boundary or region it belongs to. */
  cavum_index *first_interior; /**< Owned, shape [num_elements]. */
  cavum_index num_entities;
  cavum_msh_extent *entities; /**< Owned, shape [num_entities]. */
  cavum_index *node_list;     /**< Owned, shape [num_nodes]: nodes by entity, ascending. */
  cavum_index *element_list;  /**< Owned, shape [num_elements]: elements by region, ascending. */
} cavum_msh_numbering;

/** Frees the arrays. */
void cavum_msh_numbering_clear(cavum_msh_numbering *numbering);

/**
 * Numbers the nodes of a mesh at a geometry order and finds where they are: the mesh's own nodes
 * when it has that order, else the map of the elements, which for blended meshes is exact.
 *
 * @param[out] numbering  Cleared by the caller, also on failure.
 * @retval CAVUM_ERR_RANGE  more nodes than 32-bit numbers can count.
 */
cavum_status cavum_msh_number_nodes(cavum_msh_numbering *numbering, const cavum_mesh *mesh,
                                    int order, cavum_error *error);

/** Node numbers of one element on its lattice, shape [cavum_msh_num_nodes()]. */
void cavum_msh_element_nodes(cavum_index *nodes, const cavum_msh_numbering *numbering,
                             const cavum_mesh *mesh, cavum_index element);

#endif
