// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/element_map.h
 * The map from a reference element to the (z, r) plane, with its first derivatives.
 */
#ifndef CAVUM_ELEMENT_ELEMENT_MAP_H
#define CAVUM_ELEMENT_ELEMENT_MAP_H

#include "cavum/mesh.h"

/** Limits of the fixed work arrays. */
enum {
  CAVUM_MAP_LARGEST_ORDER = 12, /**< Of mesh->node_order; of files 10 (element/curve_guess.h). */
  CAVUM_MAP_LARGEST_N = 32      /**< Abscissae of cavum_element_map_tensor(). */
};

/** Position and derivatives at one reference point; metres. */
typedef struct cavum_map_point {
  double z, r;         /**< Position. */
  double z_xi, r_xi;   /**< d/dxi. */
  double z_eta, r_eta; /**< d/deta. */
} cavum_map_point;

/** Position on an edge, or what it adds to another, and the derivative along a coordinate x. */
typedef struct cavum_edge_position {
  double z, r, z_x, r_x;
} cavum_edge_position;

/**
 * The one-dimensional parts of a blended map at abscissae: with b = (1 - eta) / 2, t = (1 + eta) /
 * 2, l = (1 - xi) / 2 and r = (1 + xi) / 2 the point (xi, eta) is
 * b bottom(xi) + t top(xi) + l left(eta) + r right(eta).
 */
typedef struct cavum_blend_edges {
  cavum_edge_position bottom[CAVUM_MAP_LARGEST_N], top[CAVUM_MAP_LARGEST_N]; /**< At xi = x[i]. */
  cavum_edge_position left[CAVUM_MAP_LARGEST_N], right[CAVUM_MAP_LARGEST_N]; /**< At eta = x[i]. */
} cavum_blend_edges;

/** Points of the equispaced lattice of an order in an element with 3 or 4 corners. */
static inline int cavum_element_lattice_count(int num_corners, int order) {
  return num_corners == 4 ? (order + 1) * (order + 1) : (order + 1) * (order + 2) / 2;
}

/** det J = z_xi r_eta - z_eta r_xi, positive in a valid element. */
static inline double cavum_map_jacobian(const cavum_map_point *point) {
  return point->z_xi * point->r_eta - point->z_eta * point->r_xi;
}

/**
 * Map of one element at one reference point; points outside the reference element are extrapolated.
 *
 * Blended elements (quadrilaterals only): transfinite interpolation [GordonHall1973] of the edges,
 * on a curved edge at the curve parameter interpolated linearly between edge.t[]. Elements with
 * nodes: Lagrange interpolation on the equispaced lattice of order 1 to CAVUM_MAP_LARGEST_ORDER.
 */
cavum_map_point cavum_element_map_at(const cavum_mesh *mesh, cavum_index element, double xi,
                                     double eta);

/**
 * Map of a quadrilateral at the tensor grid of n abscissae: point [j n + i] is (x[i], x[j]).
 * Each exact curve is evaluated at n points only; n <= CAVUM_MAP_LARGEST_N.
 */
void cavum_element_map_tensor(cavum_map_point *out, const cavum_mesh *mesh, cavum_index element,
                              int n, const double *x);

/** Parts of the map of an element of a mesh without nodes at n <= CAVUM_MAP_LARGEST_N abscissae. */
void cavum_element_blend_edges(cavum_blend_edges *parts, const cavum_mesh *mesh,
                               cavum_index element, int n, const double *x);

/** Map of any element at a list of reference points, shapes [count]. */
void cavum_element_map_points(cavum_map_point *out, const cavum_mesh *mesh, cavum_index element,
                              int count, const double *xi, const double *eta);

/**
 * Values of the Lagrange functions of a triangle's lattice of an order and their derivatives at a
 * reference point, shapes [cavum_element_lattice_count()]: what cavum_element_map_at() multiplies
 * the nodes by.
 */
void cavum_element_triangle_lattice(double *value, double *d_xi, double *d_eta, int order,
                                    double xi, double eta);

/**
 * Position and derivative by s at position s in [-1, 1] on local edge k, of any mesh; on an exact
 * curve the curve's own.
 */
cavum_edge_position cavum_element_edge_at(const cavum_mesh *mesh, cavum_index element, int k,
                                          double s);

/** Reference point at position s in [-1, 1] on local edge k. */
void cavum_element_edge_point(double *xi, double *eta, const cavum_element *element, int k,
                              double s);

/** Derivative of the reference point with respect to s on local edge k; constant along the edge. */
void cavum_element_edge_direction(double *xi_s, double *eta_s, const cavum_element *element, int k);

#endif
