// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/coarse.h
 * The coarse triangulation between the segments and the patches.
 */
#ifndef CAVUM_MESHER_COARSE_H
#define CAVUM_MESHER_COARSE_H

#include "mesher/delaunay.h"
#include "mesher/segments.h"

/** Unit directions of travel at the start and the end of a segment. */
typedef struct cavum_segment_ends {
  cavum_point start, end;
} cavum_segment_ends;

/** Triangles inside the segments; polygon edge k of the triangulation is segment k. */
typedef struct cavum_coarse {
  const cavum_contour *contour;   /**< Borrowed. */
  const cavum_segments *segments; /**< Borrowed. */
  cavum_triangulation triangulation;
  cavum_segment_ends *ends; /**< Owned, shape [num_segments]. */
} cavum_coarse;

/** Frees all that a coarse mesh owns and empties it; NULL is accepted. */
void cavum_coarse_clear(cavum_coarse *coarse);

/**
 * Puts the ends of the segments on the grid of a triangulation.
 * @param[out] coarse   Emptied first; keeps pointers to contour and segments.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coarse_set_segments(cavum_coarse *coarse, const cavum_contour *contour,
                                       const cavum_segments *segments, cavum_error *error);

/**
 * Triangulates the polygon of the segments and adds points inside until the size field is met.
 * @param[in,out] coarse  Segments set, their chords free of crossings.
 * @param[in]     field   Sizes.
 * @param[in]     most    Largest number of points.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_MESH    crossings, or more than `most` points needed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_coarse_fill(cavum_coarse *coarse, const cavum_size_field *field,
                               cavum_index most, cavum_error *error);

/** True when a point is a corner of the contour of at most 110 degrees, best left undivided. */
bool cavum_coarse_is_narrow_corner(const cavum_coarse *coarse, cavum_index point);

/** Segment under edge k of triangle t, or -1 inside. */
cavum_index cavum_coarse_segment(const cavum_coarse *coarse, cavum_index t, int k);

/**
 * Angle between two edges at a common corner, inside a counterclockwise element, in [0, 2 pi).
 * @param[in] out_edge  Triangle and edge that leave the corner, as t * 3 + k.
 * @param[in] in_edge   Triangle and edge that come to the corner, as t * 3 + k.
 */
double cavum_coarse_angle(const cavum_coarse *coarse, cavum_index out_edge, cavum_index in_edge);

#endif
