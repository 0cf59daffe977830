// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/cubic_fit.h
 * One cubic that follows a piece of a smooth curve.
 */
#ifndef CAVUM_CONTOUR_CUBIC_FIT_H
#define CAVUM_CONTOUR_CUBIC_FIT_H

#include "contour/parallel.h"

/** Points between the ends that a cubic is fitted to. */
enum { CAVUM_CUBIC_FIT_POINTS = 7 };

/** A piece of a curve. */
typedef struct cavum_cubic_aim {
  cavum_point start, end;              /**< Of the piece. */
  cavum_point from_start, to_end;      /**< Directions there, of length 1. */
  double length_start_m, length_end_m; /**< By how much the piece would go on in a whole t. */
  cavum_point between[CAVUM_CUBIC_FIT_POINTS]; /**< In order, at about equal steps of t. */
} cavum_cubic_aim;

/**
 * The cubic with the ends and the directions of a piece that comes nearest to points between them.
 *
 * Ends and directions leave two numbers, the lengths of its end tangents: Gauss-Newton on the
 * distances from the points, across the cubic. With two conditions more than a cubic in t it
 * follows a smooth curve to the sixth power of the length, not the fourth [deBoor1987].
 *
 * @param[out] cubic  Its ends are those of the piece to the bit; the boundary stays as it is.
 * @return the largest distance from the points, in metres.
 */
double cavum_cubic_fit(cavum_curve *cubic, const cavum_cubic_aim *aim);

#endif
