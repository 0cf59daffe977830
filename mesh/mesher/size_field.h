// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/size_field.h
 * How large elements may be at each place of a contour's inside.
 *
 * The sizes here are those of the coarse triangulation, about twice the edges of the final mesh.
 */
#ifndef CAVUM_MESHER_SIZE_FIELD_H
#define CAVUM_MESHER_SIZE_FIELD_H

#include "cavum/mesh.h"

/** A sample point of a curve. */
typedef struct cavum_size_sample {
  double t;        /**< Curve parameter. */
  double length_m; /**< Length along the chords from the start of the curve. */
  double turn_rad; /**< Sum of the turns, all taken positive, from the start of the curve. */
  cavum_point point;
  cavum_point inward; /**< Unit normal into the domain. */
  double limit_m;     /**< Largest coarse size here, from what this place sees. */
} cavum_size_sample;

/** A place with its own size limit; the limit grows with the distance from it. */
typedef struct cavum_size_source {
  cavum_point point;
  double size_m;
} cavum_size_source;

/** Sizes over the domain. */
typedef struct cavum_size_field {
  double largest_m;        /**< Upper limit everywhere. */
  double largest_turn_rad; /**< Turn allowed to a coarse boundary segment. */
  cavum_index num_curves;
  cavum_index *first_sample; /**< Owned, shape [num_curves + 1]: samples of curve c follow it. */
  cavum_index num_samples;
  int64_t sample_capacity;
  cavum_size_sample
      *samples; /**< Owned, shape [num_samples], curve by curve, both ends included. */
  cavum_index num_sources;
  int64_t source_capacity;
  cavum_size_source *sources; /**< Owned, shape [num_sources]. */
} cavum_size_field;

/** Frees all that a size field owns and empties it; NULL is accepted. */
void cavum_size_field_clear(cavum_size_field *field);

/**
 * Sizes from curvature, gaps, curve lengths and the distance from the axis.
 * @param[out] field    Emptied first.
 * @param[in]  contour  Valid contour.
 * @param[in]  options  All defaults resolved except largest_size_m, 0 for the field's own choice.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MESH    a curve without length, or not finite.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_size_field_build(cavum_size_field *field, const cavum_contour *contour,
                                    const cavum_mesh_options *options, cavum_error *error);

/** Coarse size at a point in metres. */
double cavum_size_field_at(const cavum_size_field *field, cavum_point point);

/** Adds a limit at a place. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_size_field_add(cavum_size_field *field, cavum_point point, double size_m,
                                  cavum_error *error);

#endif
