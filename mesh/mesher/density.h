// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/density.h
 * How finely the contour is to be divided: the density of boundary segments along its curves.
 *
 * A segment is a side of the coarse mesh on the contour; it becomes two edges of the final mesh.
 */
#ifndef CAVUM_MESHER_DENSITY_H
#define CAVUM_MESHER_DENSITY_H

#include "mesher/size_field.h"

/** A point of the running sum along a curve. */
typedef struct cavum_density_point {
  double t;   /**< Curve parameter. */
  double sum; /**< Segments that the curve needs from its start to t, not rounded. */
} cavum_density_point;

/** Running sums of the wanted density of segments along every curve. */
typedef struct cavum_density {
  cavum_index num_curves;
  cavum_index *first; /**< Owned, shape [num_curves + 1]: points of curve c start there. */
  int64_t capacity;
  cavum_density_point *points; /**< Owned; every curve has t = 0 and t = 1. */
} cavum_density;

/** Frees all that a density owns and empties it; NULL is accepted. */
void cavum_density_clear(cavum_density *density);

/**
 * Sums the density of segments, the larger of turn and length over what is allowed.
 * @param[out] density  Emptied first.
 * @param[in]  contour  The contour of the field.
 * @param[in]  field    Sizes.
 * @param[in]  most     Largest number of segments.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MESH    more than `most` segments would be needed; where, is for the mesher to
 * say.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_STOPPED
 */
cavum_status cavum_density_build(cavum_density *density, const cavum_contour *contour,
                                 const cavum_size_field *field, cavum_index most,
                                 cavum_error *error);

/** Segments that a whole curve needs, not rounded. */
double cavum_density_total(const cavum_density *density, cavum_index curve);

/** Running sum at a parameter of a curve. */
double cavum_density_sum(const cavum_density *density, cavum_index curve, double t);

/** Parameter of a curve where its running sum has a value; the inverse of cavum_density_sum(). */
double cavum_density_parameter(const cavum_density *density, cavum_index curve, double sum);

#endif
