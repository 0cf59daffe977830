// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/subcurve.h
 * A contour cut into subcurves that turn little and one way: the form in which the test for
 * crossings can decide.
 */
#ifndef CAVUM_CONTOUR_SUBCURVE_H
#define CAVUM_CONTOUR_SUBCURVE_H

#include "cavum/contour.h"

/**
 * Part of a curve on which the direction turns one way and by at most pi/4. It lies within sag_m of
 * its chord, parameter by parameter: |c(t) - chord(t)| <= max|c''| (t1 - t0)^2 / 8.
 */
typedef struct cavum_subcurve {
  const cavum_curve *curve; /**< Borrowed from the contour. */
  cavum_index curve_index;
  double t0, t1;
  cavum_point first, last; /**< Points at t0 and t1. */
  double sag_m;
} cavum_subcurve;

/** The subcurves of a contour in the order of travel. */
typedef struct cavum_subcurve_list {
  cavum_index num_subcurves;
  int64_t capacity;
  cavum_subcurve *subcurves; /**< Owned, shape [num_subcurves]. */
} cavum_subcurve_list;

/** The subcurve of a curve between two parameters. */
cavum_subcurve cavum_subcurve_make(const cavum_curve *curve, cavum_index curve_index, double t0,
                                   double t1);

/** Angle in [0, pi] between the directions at the ends. */
double cavum_subcurve_turn_rad(const cavum_subcurve *subcurve);

/** Angle in [0, pi] between two vectors; 0 when one of them is zero. */
double cavum_subcurve_angle_rad(cavum_point first, cavum_point second);

/** Roots of a t^2 + b t + c with 0 < t < 1; gives their number. */
int cavum_subcurve_roots(double roots[2], double a, double b, double c);

/**
 * Cuts all curves of a contour.
 * @param[out] list     Empty before; free list->subcurves in any case.
 * @param[in]  contour  Finite curves.
 * @param[out] culprit  The curve with a cusp, when CAVUM_ERR_GEOMETRY comes back.
 * @retval CAVUM_ERR_GEOMETRY  a curve turns by more than pi/4 within any length: a cusp.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_subcurve_cut_contour(cavum_subcurve_list *list, const cavum_contour *contour,
                                        cavum_index *culprit);

#endif
