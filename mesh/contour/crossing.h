// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/crossing.h
 * Finds where a closed contour crosses, touches or folds back on itself.
 */
#ifndef CAVUM_CONTOUR_CROSSING_H
#define CAVUM_CONTOUR_CROSSING_H

#include "cavum/contour.h"

/** What was found. */
typedef enum cavum_crossing_kind {
  CAVUM_CROSSING_NONE,
  CAVUM_CROSSING_CUSP,     /**< One curve changes direction at a point. */
  CAVUM_CROSSING_FOLD,     /**< A curve and the next enclose no angle. */
  CAVUM_CROSSING_MEET,     /**< Two parts of the contour meet away from their common ends. */
  CAVUM_CROSSING_UNDECIDED /**< So many near contacts that the search was ended. */
} cavum_crossing_kind;

/** The first meeting found. */
typedef struct cavum_crossing {
  cavum_crossing_kind kind;
  cavum_index first, second; /**< Curves; equal when one curve crosses itself; -1 for NONE. */
  cavum_point place;
} cavum_crossing;

/**
 * Searches all pairs of pieces of a closed contour.
 *
 * Curves are cut into subcurves, each within a known distance (its sag) of its chord. Two subcurves
 * are apart when their chords are farther apart than both sags; otherwise the one with the larger
 * sag is halved. A sag falls with the square of the length, so the halving soon ends: either the
 * two are farther apart than CAVUM_CONTOUR_TOUCHING of the size, or they come within twice that and
 * are said to meet. Neighbours share an end: near it they are told apart by direction, since two
 * subcurves that together turn by less than the angle between them cannot meet again. Nothing is
 * sampled: no crossing is missed, and a gap of more than twice the touching distance is no contact.
 *
 * @param[out] crossing  Untouched unless CAVUM_OK.
 * @param[in]  contour   Finite numbers; each curve starts where the one before ends; at least two.
 * @param[in]  size_m    Size of the contour.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_crossing_find(cavum_crossing *crossing, const cavum_contour *contour,
                                 double size_m);

#endif
