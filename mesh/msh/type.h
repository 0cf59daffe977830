// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file msh/type.h
 * Element types of the MSH format and the order of their nodes.
 */
#ifndef CAVUM_MSH_TYPE_H
#define CAVUM_MSH_TYPE_H

#include "cavum/mesh.h"

enum {
  CAVUM_MSH_LARGEST_ORDER = 10,
  CAVUM_MSH_MOST_NODES = 121 /**< Nodes of a quadrilateral of the largest order. */
};

/** A point, line, triangle or quadrilateral type. */
typedef struct cavum_msh_type {
  int num_corners; /**< 1 point, 2 line, 3 triangle, 4 quadrilateral. */
  int order;       /**< 1 to 10; 0 for a point. */
  bool complete;   /**< False: serendipity, nodes on the edges only. */
  int num_nodes;
} cavum_msh_type;

/** Looks up a type number; false when it is none of the four shapes or of order 0 or above 10. */
bool cavum_msh_type_find(cavum_msh_type *type, int64_t number);

/** True when the format knows the number as a three-dimensional element. */
bool cavum_msh_type_is_solid(int64_t number);

/** Type number of the complete element. */
int cavum_msh_type_number(int num_corners, int order);

/** Nodes of the complete element. */
int cavum_msh_num_nodes(int num_corners, int order);

/**
 * Node order of the format: file node m stands at index lattice[m] of the lexicographic lattice of
 * cavum_mesh. Corners, then edge by edge from corner k to corner k + 1, then the interior as a
 * smaller element of the same shape, of order g - 3 (triangle) or g - 2 (quadrilateral). The first
 * num_corners * order entries are the order of the serendipity element.
 *
 * @param[out] lattice  Shape [cavum_msh_num_nodes()].
 */
void cavum_msh_lattice(int *lattice, int num_corners, int order);

/** Lattice index of the node m (0 to order) along local edge k. */
int cavum_msh_lattice_edge(int num_corners, int order, int k, int m);

/**
 * Fills the interior nodes of a serendipity element from its edge nodes.
 *
 * Quadrilateral: transfinite blending of the edge polynomials, which spans the serendipity space
 * {x^k, y^k, x^k y, x y^k}. Triangle: on edge ab the departure from the chord is
 * L_a L_b q(L_b - L_a) and is continued inwards as it stands; for order 3 that is the usual
 * centre node, a quarter of the edge nodes less a sixth of the corners. Quadratics are reproduced.
 *
 * @param[in,out] nodes  The lattice of one element.
 */
void cavum_msh_complete(cavum_point *nodes, int num_corners, int order);

#endif
