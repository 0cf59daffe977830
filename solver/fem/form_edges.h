// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/form_edges.h
 * The boundary terms -2 r^2 z_s x u / eps_r of the forms of a batch, differentiated by the edges.
 */
#ifndef CAVUM_FEM_FORM_EDGES_H
#define CAVUM_FEM_FORM_EDGES_H

#include "base/lanes.h"
#include "element/mesh_gradient.h"
#include "fem/discretisation.h"

/**
 * The boundary term of an edge: by what of x u it changes with r and with z_s at the points, and
 * the functions that x and u are made of there.
 */
typedef struct cavum_form_edge {
  cavum_index element;
  int local;
  bool is_bent;
  double of_r[CAVUM_POINTS_MOST], of_z_s[CAVUM_POINTS_MOST];
  double x[CAVUM_POINTS_MOST]; /**< At the points. */
  cavum_index index[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
  cavum_half by_ends[CAVUM_DEGREE_MOST + 1]; /**< Of an edge that is not bent, by the functions of
                                                u: z of the second end, r of the first and of the
                                                second; z of the first is the opposite. */
  cavum_gradient_end ends[2];                /**< Of such an edge. */
} cavum_form_edge;

/** The boundary terms of a batch. */
typedef struct cavum_form_edges {
  const cavum_discretisation *d; /**< Borrowed. */
  int count;
  cavum_form_edge edges[4 * CAVUM_LANES];
  double trace[CAVUM_DEGREE_MOST + 1][CAVUM_POINTS_MOST]; /**< Of each function of an edge. */
} cavum_form_edges;

/** Of no batch yet. */
void cavum_form_edges_begin(cavum_form_edges *edges, const cavum_discretisation *discretisation);

/** Lists the terms of a batch. */
void cavum_form_edges_list(cavum_form_edges *edges, const cavum_batch *batch);

/** The term along a local edge of an element; -1: none. */
int cavum_form_edges_find(const cavum_form_edges *edges, cavum_index element, int local);

/** Evaluates x on all edges. @param[in] x  Shape [num_unknowns]. */
void cavum_form_edges_set_x(cavum_form_edges *edges, const double *x);

/** What cavum_form_edges_add_straight() needs of x. */
void cavum_form_edges_weigh(cavum_form_edges *edges);

/** Adds the derivatives by all edges that are not bent where u is x. */
void cavum_form_edges_add_square(cavum_mesh_gradient *gradient, const cavum_form_edges *edges);

/** Adds them after cavum_form_edges_weigh(). @param[in] u  Shape [num_unknowns]. */
void cavum_form_edges_add_straight(cavum_mesh_gradient *gradient, const cavum_form_edges *edges,
                                   const double *u);

/**
 * Adds those by an edge that is bent to the positions at the points of the part of the map that
 * runs along it.
 * @param[in,out] by     Shape [q].
 * @param[in]     u      Shape [num_unknowns].
 * @param[in]     which  The part: the edge may run against it.
 */
void cavum_form_edges_add_bent(cavum_edge_position *by, const cavum_form_edges *edges, int edge,
                               const double *u, cavum_blend_part which);

#endif
