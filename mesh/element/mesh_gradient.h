// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/mesh_gradient.h
 * What a figure feels of the shape of a mesh, gathered at the curves of its contour.
 *
 * A figure is a sum over points of elements and edges. Its derivatives by their positions are added
 * here; they are collected at the vertices and at the numbers of the curves (contour/curve_rate.h).
 * Vertices inside follow those on the contour as in mesh_follow.h, so that in the end only the
 * curves are left. The derivative by a dimension is then a product with the rates of the curves.
 */
#ifndef CAVUM_ELEMENT_MESH_GRADIENT_H
#define CAVUM_ELEMENT_MESH_GRADIENT_H

#include "contour/curve_rate.h"
#include "element/element_map.h"
#include "element/mesh_follow.h"

/** Derivatives of one figure by the geometry of a mesh without nodes. */
typedef struct cavum_mesh_gradient {
  const cavum_mesh *mesh;   /**< Borrowed. */
  cavum_point *vertices;    /**< Owned, [num_vertices]. */
  cavum_curve_rate *curves; /**< Owned, [num_curves]. */
} cavum_mesh_gradient;

/** Zeroed. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_mesh_gradient_create(cavum_mesh_gradient *gradient, const cavum_mesh *mesh,
                                        cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_mesh_gradient_clear(cavum_mesh_gradient *gradient);

/** Sets all derivatives to zero. */
void cavum_mesh_gradient_reset(cavum_mesh_gradient *gradient);

/** Adds the derivatives by cavum_element_edge_at() of a local edge at s. */
void cavum_mesh_gradient_add_edge(cavum_mesh_gradient *gradient, cavum_index element, int k,
                                  double s, const cavum_edge_position *by);

/** Adds the derivatives by cavum_element_blend_edges() of an element. */
void cavum_mesh_gradient_add_blend(cavum_mesh_gradient *gradient, cavum_index element, int n,
                                   const double *x, const cavum_blend_edges *by);

/**
 * Moves what is at the vertices to the curves; the follower belongs to a mesh of this topology.
 * Nothing is added after it.
 */
void cavum_mesh_gradient_gather(cavum_mesh_gradient *gradient, const cavum_mesh_follower *follower);

/**
 * Derivative of the figure when the curves change at these rates.
 * @param[out] size   Sum of the sizes of its terms.
 * @param[in]  rates  Shape [num_curves].
 */
double cavum_mesh_gradient_dot(double *size, const cavum_mesh_gradient *gradient,
                               const cavum_curve_rate *rates);

#endif
