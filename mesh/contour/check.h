// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/check.h
 * Whether a contour is the outline of a domain: closed, simple, above the axis, inside on the left.
 */
#ifndef CAVUM_CONTOUR_CHECK_H
#define CAVUM_CONTOUR_CHECK_H

#include "contour/builder.h"

/** Lengths below this part of the contour's size are nothing: a piece that short is refused. */
#define CAVUM_CONTOUR_SMALLEST_PIECE 1e-9
/** Pieces that come closer than this part of the contour's size touch. */
#define CAVUM_CONTOUR_TOUCHING 1e-10
/** Neighbouring pieces that enclose a smaller angle turn back on themselves. */
#define CAVUM_CONTOUR_SMALLEST_ANGLE_RAD 1e-3

/**
 * Checks a contour, in this order: finite numbers; each piece starts where the one before ends; no
 * piece of no length; the axis pieces, and only they, run along r = 0, and whatever else reaches
 * r = 0 does so next to one of them; nothing lies at r < 0; no two pieces cross, touch or fold
 * back; the inside is on the left.
 *
 * The test for crossings works on the exact curves and decides every pair: see crossing.h.
 *
 * @param[in]  contour  Any curves.
 * @param[in]  labels   What messages call them, shape [num_curves]; NULL: "piece N", N from 1.
 * @param[out] culprit  Index of the curve at fault, or -1 for the contour as a whole; set when the
 *                      result is not CAVUM_OK; may be NULL.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as above.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_check(const cavum_contour *contour, const cavum_curve_label *labels,
                                 cavum_index *culprit, cavum_error *error);

/** Area enclosed by a closed contour, exact up to rounding; positive when the inside is on the
 * left. */
double cavum_contour_area_m2(const cavum_contour *contour);

/** A size to compare lengths with: the diagonal of the box around a contour. */
double cavum_contour_size_m(const cavum_contour *contour);

/** How far the junctions of a contour reach along the axis. */
void cavum_contour_find_extent(double *low_m, double *high_m, const cavum_contour *contour);

/** The middle of that. */
double cavum_contour_middle_m(const cavum_contour *contour);

#endif
