// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/spline.h
 * The cubic spline through a list of points, one cubic curve a span.
 */
#ifndef CAVUM_CONTOUR_SPLINE_H
#define CAVUM_CONTOUR_SPLINE_H

#include "contour/curve_rate.h"

/** Directions of a spline at its start and its end. */
typedef struct cavum_spline_ends {
  bool is_stated[2];
  cavum_point direction[2]; /**< Of travel, of length 1; where it is stated. */
} cavum_spline_ends;

/**
 * Cubic spline through points in the plane, with continuous second derivatives.
 *
 * The parameter is the accumulated chord length, which keeps unevenly spaced points from
 * overshooting. The end condition is not-a-knot (the third derivative is continuous at the second
 * and the last but one point [deBoor1978] ch. IV): with it a smooth wall is followed to the fourth
 * power of the spacing up to the ends, whereas a natural spline forces zero curvature there. Three
 * points give one parabola, two points a straight span. At an end whose direction is stated the
 * spline has that direction in place of the end condition.
 *
 * @param[out] spans       Shape [num_points - 1]; ends are exact copies of the points. Untouched
 *                         unless CAVUM_OK.
 * @param[in]  points      Shape [num_points]; neighbours differ.
 * @param[in]  num_points  At least 2.
 * @param[in]  boundary    Of every span.
 * @param[in]  ends        NULL: no direction is stated; one takes 4 points or more.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a point repeats its predecessor.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_spline_through_points(cavum_curve *spans, const cavum_point *points,
                                         cavum_index num_points, cavum_boundary boundary,
                                         const cavum_spline_ends *ends, cavum_error *error);

/**
 * How the spans of a spline change when one of its points moves. All of them do: the chord lengths
 * are its parameter.
 *
 * @param[out] rates       Shape [num_spans]: added to what is there.
 * @param[in]  spans       As cavum_spline_through_points() made them.
 * @param[in]  num_spans   At least 1.
 * @param[in]  stated      Whether the directions at start and end are; they stay.
 * @param[in]  moved       The point: 0 to num_spans.
 * @param[in]  velocity    Its velocity.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_spline_rate(cavum_curve_rate *rates, const cavum_curve *spans,
                               cavum_index num_spans, const bool stated[2], cavum_index moved,
                               cavum_point velocity, cavum_error *error);

#endif
