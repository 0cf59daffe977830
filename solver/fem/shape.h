// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/shape.h
 * Hierarchical shape functions of degree 1 to 16 on segments, quadrilaterals and triangles.
 *
 * Segment: N_0 = (1 - s)/2, N_1 = (1 + s)/2 and, for k >= 2, the integrated Legendre polynomials
 * N_k = (P_k - P_{k-2}) / sqrt(2 (2k - 1)), which vanish at both ends [SzaboBabuska1991] ch. 6.
 *
 * Local order of an element of degree p: the corners; then for each local edge its p - 1 functions
 * k = 2..p, whose trace is N_k of the position s along the edge (from corner k to corner k + 1);
 * then the functions that vanish on the whole boundary, those of lower degrees first.
 * Quadrilaterals: all products N_i(xi) N_j(eta). Triangles: the full polynomial space of degree p.
 */
#ifndef CAVUM_FEM_SHAPE_H
#define CAVUM_FEM_SHAPE_H

/** Highest degree. */
enum { CAVUM_DEGREE_MOST = 16 };
/** Most functions of one element. */
enum { CAVUM_SHAPES_MOST = (CAVUM_DEGREE_MOST + 1) * (CAVUM_DEGREE_MOST + 1) };

/** Segment functions N_0..N_degree and their derivatives at s; shapes [degree + 1]. */
void cavum_shape_segment(double *value, double *derivative, int degree, double s);

/** Number of functions of an element with 3 or 4 corners. */
int cavum_shape_count(int num_corners, int degree);

/** Number of them that do not vanish on the boundary: num_corners * degree. */
int cavum_shape_count_skeleton(int num_corners, int degree);

/** Local index of the function whose trace on a local edge is N_k; the others vanish there. */
static inline int cavum_shape_on_edge(int num_corners, int degree, int edge, int k) {
  if (k == 0) return edge;
  if (k == 1) return edge + 1 < num_corners ? edge + 1 : 0;
  return num_corners + edge * (degree - 1) + k - 2;
}

/**
 * For a quadrilateral, the product that each local function is: sign * N_i(xi) N_j(eta).
 * @param[out] i, j, sign  Shape [(degree + 1)^2].
 * @param[in]  degree      1 to CAVUM_DEGREE_MOST.
 */
void cavum_shape_quad_products(int *i, int *j, double *sign, int degree);

/**
 * All functions of an element and their reference derivatives at one point.
 * @param[out] value, d_xi, d_eta  Shape [cavum_shape_count()].
 * @param[in]  num_corners  3 or 4.
 * @param[in]  degree       1 to CAVUM_DEGREE_MOST.
 * @param[in]  xi, eta      Reference point.
 */
void cavum_shape_element(double *value, double *d_xi, double *d_eta, int num_corners, int degree,
                         double xi, double eta);

#endif
