// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/candidates.h
 * Candidate corners on the contour, and the sides that may join them.
 */
#ifndef CAVUM_MESHER_CANDIDATES_H
#define CAVUM_MESHER_CANDIDATES_H

#include "mesher/segments.h"

/** A candidate corner. */
typedef struct cavum_candidate {
  cavum_index curve; /**< Curve that starts here or goes through. */
  double t, sum;     /**< Parameter and running density sum on that curve. */
  cavum_point point;
  cavum_point arrive; /**< Unit direction of travel before it. */
  cavum_point leave;  /**< Unit direction of travel after it. */
  double size_m;      /**< Size field. */
} cavum_candidate;

/** What joins two candidates. */
typedef enum cavum_side_kind {
  CAVUM_SIDE_NONE,     /**< Nothing can. */
  CAVUM_SIDE_BOUNDARY, /**< The contour itself. */
  CAVUM_SIDE_CHORD     /**< A straight line through the domain. */
} cavum_side_kind;

/** Candidates in the order of the contour. */
typedef struct cavum_candidates {
  cavum_index num_candidates;
  int64_t capacity;
  cavum_candidate *candidates; /**< Owned, shape [num_candidates]. */
  signed char *kind; /**< Owned, shape [num_candidates, num_candidates]: side from i to j, i < j. */
  cavum_point *direction; /**< Owned, same shape: unit vector from i to j, i < j. */
  double *length_m;       /**< Owned, same shape: distance, i < j. */
  double *wanted;         /**< Owned, same shape: coarse elements that sizes want along a side. */
} cavum_candidates;

/** Frees all that candidates own and empties them; NULL is accepted. */
void cavum_candidates_clear(cavum_candidates *candidates);

/**
 * Puts candidates on all junctions and about twice as densely between them as segments are wanted;
 * straight pieces get them opposite to those of other pieces.
 * @param[out] candidates    Emptied first; empty when there would be more than `most`.
 * @param[in]  contour, field, density  Of one contour.
 * @param[in]  most     Largest number of candidates.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_candidates_build(cavum_candidates *candidates, const cavum_contour *contour,
                                    const cavum_size_field *field, const cavum_density *density,
                                    cavum_index most, cavum_error *error);

/** True when the contour from candidate i on to candidate j (cyclic) may be one segment. */
bool cavum_candidates_is_boundary(const cavum_candidates *candidates, const cavum_density *density,
                                  cavum_index i, cavum_index j);

/** The segment under a boundary side from candidate i to candidate j. */
cavum_segment cavum_candidates_segment(const cavum_candidates *candidates,
                                       const cavum_density *density, cavum_index i, cavum_index j);

#endif
