// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher_chain.h
 * The contour as a chain of coarse segments; each becomes two edges of the final mesh.
 */
#ifndef CAVUM_MESHER_CHAIN_H
#define CAVUM_MESHER_CHAIN_H

#include "size_field.h"

/** A piece of one curve. The next segment of the chain starts where it ends. */
typedef struct cavum_segment {
  cavum_index curve;
  double t[3]; /**< Curve parameter at its start, middle and end. */
} cavum_segment;

/** A closed chain of segments. */
typedef struct cavum_chain {
  cavum_index num_segments;
  int64_t capacity;
  cavum_segment *segments; /**< Owned, shape [num_segments]. */
} cavum_chain;

/** Frees the segments and empties the chain; NULL is accepted. */
void cavum_chain_clear(cavum_chain *chain);

/**
 * Divides every curve by the size field and the largest turn.
 * @param[out] chain   Emptied first.
 * @param[in]  contour  The contour of the field.
 * @param[in]  field    Sizes.
 * @param[in]  most     Largest number of segments.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MESH    more than `most` segments would be needed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_chain_build(cavum_chain *chain, const cavum_contour *contour,
                               const cavum_size_field *field, cavum_index most, cavum_error *error);

#endif
