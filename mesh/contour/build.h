// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/build.h
 * Putting a contour together piece by piece: lines, arcs fitted to their end points, labels.
 */
#ifndef CAVUM_CONTOUR_BUILD_H
#define CAVUM_CONTOUR_BUILD_H

#include "cavum/contour.h"

/** Longest label of a piece with its final zero. */
enum { CAVUM_LABEL_SIZE = 48 };

/** What messages call a curve, for example "right iris ellipse" or "contour.path[3]". */
typedef struct cavum_curve_label {
  char text[CAVUM_LABEL_SIZE];
} cavum_curve_label;

/** A contour under construction, with a label for each curve. Zero-initialise. */
typedef struct cavum_outline {
  cavum_contour contour;     /**< Owned. */
  cavum_curve_label *labels; /**< Owned, shape [contour.num_curves]. */
  int64_t curve_capacity, label_capacity;
} cavum_outline;

/** Most curves of one contour; a bound on the work that a hostile file can ask for. */
enum { CAVUM_LARGEST_CONTOUR = 4000 };

/** Frees all that an outline owns and empties it. */
void cavum_outline_clear(cavum_outline *outline);

/**
 * Appends a copy of a curve.
 * @retval CAVUM_ERR_GEOMETRY  more than CAVUM_LARGEST_CONTOUR curves.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_outline_append(cavum_outline *outline, const cavum_curve *curve,
                                  const char *label, cavum_error *error);

/** Moves the contour out of an outline and clears the rest. */
cavum_contour cavum_outline_release(cavum_outline *outline);

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
