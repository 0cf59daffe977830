// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/curve_fit.h
 * Polynomials over the length of a curve, through nodes on it. Over the length a curve may turn as
 * far as it likes, which it may not over a line, and the polynomials of a circle converge fast.
 */
#ifndef CAVUM_ELEMENT_CURVE_FIT_H
#define CAVUM_ELEMENT_CURVE_FIT_H

#include "element/element_map.h"

/** Nodes that a fit goes through at most: those of a side and two more. */
enum { CAVUM_FIT_NODES = CAVUM_MAP_LARGEST_ORDER + 3 };

/** What the nodes of a side say by themselves. */
typedef struct cavum_side_shape {
  double length_m[CAVUM_MAP_LARGEST_ORDER + 1]; /**< Along the side, from its first node to each. */
  cavum_point along[2];                         /**< Directions of travel at its ends, length 1. */
  /** How far the side is off between its nodes where a slope that is off by a radian at an end is
   * all that a polynomial of one degree more would add. */
  double off_by_slope_m[2];
  /** What the highest degree of the side adds to it, off its chord; 0 for straight sides. */
  double top_m;
} cavum_side_shape;

/**
 * Measures the polynomial through the nodes of a side, which are equispaced in its parameter.
 * @param[in] nodes  Shape [steps + 1], steps >= 1.
 */
cavum_side_shape cavum_side_shape_of(const cavum_point *nodes, int steps);

/** A node and where it lies along the curve. */
typedef struct cavum_curve_node {
  cavum_point at;
  double length_m;
} cavum_curve_node;

/** A polynomial over the length, in Newton's form. */
typedef struct cavum_curve_fit {
  int num_nodes;
  double length_m[CAVUM_FIT_NODES];
  cavum_point coefficient[CAVUM_FIT_NODES];
} cavum_curve_fit;

/** Fits a polynomial; false where lengths do not rise. nodes: shape [count], count >= 2. */
bool cavum_curve_fit_create(cavum_curve_fit *fit, const cavum_curve_node *nodes, int count);

/** Point of the polynomial. */
cavum_point cavum_curve_fit_at(const cavum_curve_fit *fit, double length_m);

/** Length along a side at s in [-1, 1], from the lengths at its equispaced nodes. */
double cavum_curve_length_at(const double *length_m, int steps, double s);

#endif
