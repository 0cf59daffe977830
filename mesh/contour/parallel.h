// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/parallel.h
 * Parallel curves: an ellipse or a cubic whose points are moved along its normals and then
 * stretched along the axis, layer after layer; points, derivatives and rates are exact to rounding.
 *
 * An ellipse has room for four layers, in `cubic`; a cubic for three, in `centre`, the half axes
 * and the angles, which it does not use otherwise.
 */
#ifndef CAVUM_CONTOUR_PARALLEL_H
#define CAVUM_CONTOUR_PARALLEL_H

#include "contour/curve_rate.h"

/** Most layers of any curve. */
enum { CAVUM_PARALLEL_LAYERS = 4 };

/** One layer: first the offset, then the stretch about z = 0. */
typedef struct cavum_parallel_layer {
  double offset_m;    /**< To the right of travel, out of a domain. */
  double lengthening; /**< Lengths along z grow by this part. */
} cavum_parallel_layer;

/** True for an ellipse and for a parallel of one. */
static inline bool cavum_curve_is_of_ellipse(const cavum_curve *curve) {
  return curve->kind == CAVUM_CURVE_ELLIPSE || curve->kind == CAVUM_CURVE_PARALLEL_OF_ELLIPSE;
}

/** True for a cubic and for a parallel of one. */
static inline bool cavum_curve_is_of_cubic(const cavum_curve *curve) {
  return curve->kind == CAVUM_CURVE_CUBIC || curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC;
}

/** True for a parallel of either. */
static inline bool cavum_curve_is_parallel(const cavum_curve *curve) {
  return curve->kind == CAVUM_CURVE_PARALLEL_OF_ELLIPSE ||
         curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC;
}

/** Layers of a parallel, from the first; gives how many its kind has room for. */
int cavum_parallel_get(cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS],
                       const cavum_curve *curve);

/** Sets the layers of a parallel; those beyond the room of its kind are left out. */
void cavum_parallel_set(cavum_curve *curve, const cavum_parallel_layer *layers);

/** Point and first and second derivatives by t, by the formula, at any t. */
typedef struct cavum_parallel_place {
  cavum_point point, first, second;
} cavum_parallel_place;

/** Where a parallel is at t; also beyond its ends. */
cavum_parallel_place cavum_parallel_at(const cavum_curve *curve, double t);

/** The change of all of it with the rates of the numbers of the curve. */
cavum_parallel_place cavum_parallel_rate_at(const cavum_curve *curve, const cavum_curve_rate *rate,
                                            double t);

/** cavum_curve_rate_add() of a parallel. */
void cavum_parallel_rate_add(cavum_curve_rate *gradient, const cavum_curve *curve, double t,
                             cavum_point by_point, cavum_point by_slope);

#endif
