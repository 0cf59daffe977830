// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/curve_rate.h
 * How the numbers of a curve change with a dimension, and how a figure changes with them.
 *
 * A point of a curve at a fixed t is a function of the numbers of cavum_curve. The same struct
 * holds their derivatives by a dimension (a rate) and the derivatives of a figure by them (a
 * gradient); the product of the two is the derivative of the figure by the dimension.
 */
#ifndef CAVUM_CONTOUR_CURVE_RATE_H
#define CAVUM_CONTOUR_CURVE_RATE_H

#include "base/lanes.h"
#include "cavum/contour.h"

/** One number for each of the numbers of a curve; those that its kind does not use are 0. */
typedef struct cavum_curve_rate {
  cavum_point start, end; /**< Of an ellipse or cubic: of no account for points between them. */
  cavum_point centre;
  double axial_m, radial_m;
  double angle_start_rad, angle_end_rad;
  cavum_point cubic[4];
} cavum_curve_rate;

/** A point of a curve, as its derivatives need it. */
typedef struct cavum_curve_place {
  double t;
  double cosine, sine; /**< Of the angle there, of an ellipse. */
} cavum_curve_place;

/** Whether any of its numbers is not 0. */
bool cavum_curve_rate_moves(const cavum_curve_rate *rate);

/** The place at t. */
cavum_curve_place cavum_curve_place_at(const cavum_curve *curve, double t);

/** Velocity of the point at t, with that of d(point)/dt. */
void cavum_curve_rate_at(cavum_point *point, cavum_point *slope, const cavum_curve *curve,
                         const cavum_curve_rate *rate, double t);

/**
 * Adds to a gradient a figure's derivatives by the point at a place and by d(point)/dt there: the
 * transpose of cavum_curve_rate_at(). Ends of arcs and cubics count by their formula.
 */
void cavum_curve_rate_add(cavum_curve_rate *gradient, const cavum_curve *curve,
                          const cavum_curve_place *place, cavum_point by_point,
                          cavum_point by_slope);

/** Derivatives of a figure by a point of a curve, and by d(point)/dt there. */
typedef struct cavum_curve_point_gradient {
  double z, r, z_t, r_t;
} cavum_curve_point_gradient;

/** cavum_curve_rate_add() of n places. */
void cavum_curve_rate_add_points(cavum_curve_rate *gradient, const cavum_curve *curve, int n,
                                 const cavum_curve_place *places,
                                 const cavum_curve_point_gradient *by);

/** Places on one curve, and a figure's derivatives by the points there and by d(point)/dt. */
typedef struct cavum_curve_places {
  const cavum_lanes *t, *cosine, *sine;
  const cavum_lanes *by_z, *by_r, *by_z_t, *by_r_t;
} cavum_curve_places;

/** cavum_curve_rate_add() of `vectors` times CAVUM_LANES places together. */
void cavum_curve_rate_add_many(cavum_curve_rate *gradient, const cavum_curve *curve,
                               const cavum_curve_places *places, int vectors);

/**
 * Sum of the products of all numbers of so many curves.
 * @param[out] size  Sum of their sizes.
 */
double cavum_curve_rates_dot(double *size, const cavum_curve_rate *a, const cavum_curve_rate *b,
                             cavum_index count);

/** Sets the rates of the angles of an arc from those of its ends, centre and half axes. */
void cavum_curve_rate_set_angles(cavum_curve_rate *rate, const cavum_curve *arc);

/**
 * Rates of an arc that cavum_curve_make_arc() puts through its ends, from the rates of its ends and
 * of the stated centre and half axes: ends off the ellipse move the centre along the chord and
 * scale the half axes.
 * @param[in,out] rate    Of the stated numbers; then of the curve, its angles too.
 * @param[in]     circle  The radius is the mean distance of the ends from the centre.
 */
void cavum_curve_rate_fit_arc(cavum_curve_rate *rate, const cavum_curve *arc, bool circle);

#endif
