// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/reference.h
 * Tables of one polynomial degree: quadrature rules and shape functions at their points.
 */
#ifndef CAVUM_FEM_REFERENCE_H
#define CAVUM_FEM_REFERENCE_H

#include <stdbool.h>
#include <stdint.h>

#include "base/lanes.h"
#include "cavum/status.h"
#include "fem/shape.h"

/** Points beyond the degree of the Gauss rule of an element direction, see reference.c; most
 * points. */
enum { CAVUM_EXTRA_POINTS = 1, CAVUM_POINTS_MOST = 24 };

/**
 * Where the two matrix entries of two symmetric pairs (i, k) and (j, l) are: that of functions
 * (i, j) and (k, l), and that of (i, l) and (k, j). Packed lower triangle, interior functions
 * first.
 */
typedef struct cavum_pair_place {
  int32_t same, crossed;
} cavum_pair_place;

/**
 * Tables of one degree. n = degree + 1 segment functions, q points a direction. Pair tables hold
 * products of two functions at the points; symmetric pairs (i >= k) are packed at i (i + 1) / 2 +
 * k.
 */
typedef struct cavum_reference {
  int degree, n, q, num_pairs;
  double x[CAVUM_POINTS_MOST], weight[CAVUM_POINTS_MOST]; /**< Gauss rule, [q]. */
  double *value, *derivative;                             /**< N_k and N_k', [q][n]. */
  /** The same at the first half of the points, for line_sums.h, [(q + 1) / 2][n]; those of the two
   * corners are the constant and s. */
  double *line_value, *line_derivative;
  double *value_value;           /**< N_i N_k, [num_pairs][q]. */
  double *derivative_derivative; /**< N_i' N_k', [num_pairs][q]. */
  double *derivative_value;      /**< N_i' N_k, i >= k, [num_pairs][q]. */
  double *value_derivative;      /**< N_i N_k', i >= k, [num_pairs][q]. */
  double *value_derivative_all;  /**< N_j N_l' at j n + l, [n n][q]. */
  int quad_i[CAVUM_SHAPES_MOST], quad_j[CAVUM_SHAPES_MOST]; /**< cavum_shape_quad_products(). */
  double quad_sign[CAVUM_SHAPES_MOST];
  cavum_pair_place *place; /**< Owned, [num_pairs][num_pairs]. */
  int triangle_points, triangle_shapes;
  double *triangle_xi, *triangle_eta, *triangle_weight; /**< [triangle_points]. */
  double *triangle_value, *triangle_d_xi,
      *triangle_d_eta;   /**< [triangle_points][triangle_shapes]. */
  double *triangle_rows; /**< [triangle_shapes][3][triangle_points]: d_xi, d_eta and value again, by
                            row of the element matrix. */
  double *memory;        /**< Owned: all tables in one block. */
} cavum_reference;

/**
 * Fills the tables of a degree.
 * @param[in] points          Of the Gauss rule of a direction, at most CAVUM_POINTS_MOST; 0 for the
 *                            number that suits polynomial coefficients.
 * @param[in] with_triangles  False leaves the triangle tables out, which are the dearest part.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_reference_create(cavum_reference *reference, int degree, int points,
                                    bool with_triangles, cavum_error *error);

/** Frees the tables; NULL is accepted. */
void cavum_reference_clear(cavum_reference *reference);

/** Quadrature points of an element with 3 or 4 corners. */
static inline int cavum_reference_points(const cavum_reference *reference, int num_corners) {
  return num_corners == 4 ? reference->q * reference->q : reference->triangle_points;
}

/** Row of a local function in the element matrix, where interior functions come first. */
static inline int cavum_reference_row(int function, int skeleton, int all) {
  return function < skeleton ? function + all - skeleton : function - skeleton;
}

/** Index of a symmetric pair. */
static inline int cavum_reference_pair(int i, int k) {
  return i >= k ? i * (i + 1) / 2 + k : k * (k + 1) / 2 + i;
}

#endif
