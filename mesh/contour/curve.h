// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/curve.h
 * Making curves: straight lines, and arcs fitted to their end points.
 */
#ifndef CAVUM_CONTOUR_CURVE_H
#define CAVUM_CONTOUR_CURVE_H

#include "cavum/contour.h"

/** A straight piece. */
cavum_curve cavum_curve_make_line(cavum_point start, cavum_point end, cavum_boundary boundary);

/** What is known of an arc before its angles are. */
typedef struct cavum_arc {
  cavum_point start, end, centre;
  double axial_m, radial_m; /**< Half axes; both 0 for a circle through start and end. */
  bool turn_left;           /**< True: counterclockwise. */
  cavum_boundary boundary;
} cavum_arc;

/**
 * The arc of an axis-parallel ellipse from start to end, less than one full turn.
 *
 * Numbers in a file are rounded, so start and end rarely lie on the stated ellipse to the last bit.
 * Deviations below 1e-6 of the half axes are taken up: in coordinates scaled to the unit circle the
 * centre moves along the chord until start and end are equally far from it, then both half axes are
 * scaled by that distance. The curve then passes through both ends to rounding, and no dimension
 * changes by more than the deviation asks for.
 *
 * @param[out] curve  Untouched unless CAVUM_OK.
 * @param[in]  arc    What is known.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  start or end is off the ellipse, start and end coincide, or they are
 *                             so close together that their deviation would turn the arc.
 */
cavum_status cavum_curve_make_arc(cavum_curve *curve, const cavum_arc *arc, cavum_error *error);

#endif
