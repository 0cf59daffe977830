// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/segments.h
 * The contour divided into segments.
 */
#ifndef CAVUM_MESHER_SEGMENTS_H
#define CAVUM_MESHER_SEGMENTS_H

#include "mesher/density.h"

/** A piece of one curve. */
typedef struct cavum_segment {
  cavum_index curve; /**< Curve, or -1 for a straight side inside the domain. */
  double t[3];       /**< Curve parameter at its start, middle and end. */
} cavum_segment;

/** The segments of the whole contour: each starts where the one before it ends. */
typedef struct cavum_segments {
  cavum_index num_segments;
  int64_t capacity;
  cavum_segment *segments; /**< Owned, shape [num_segments]. */
} cavum_segments;

/** Frees the segments and empties the list; NULL is accepted. */
void cavum_segments_clear(cavum_segments *segments);

/**
 * Divides every curve into equal parts of its density.
 * @param[out] segments Emptied first.
 * @param[in]  density  Density of the contour.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_segments_build(cavum_segments *segments, const cavum_density *density,
                                  cavum_error *error);

#endif
