// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/smooth.h
 * Better places for the inner vertices of quadrilaterals.
 */
#ifndef CAVUM_MESHER_SMOOTH_H
#define CAVUM_MESHER_SMOOTH_H

#include "mesher/quads.h"

/** How hard to try. */
typedef struct cavum_smoothing {
  int sweeps;        /**< Most rounds of Newton steps over all vertices. */
  double poor_shape; /**< Around shapes below this trial steps follow; 0: none. */
} cavum_smoothing;

/**
 * Moves inner vertices so that the worst quadrilateral around each of them gets better; vertices on
 * curves stay. No move makes the worst around a vertex worse than it was.
 * @param[in,out] quads  Any quadrilaterals, also folded ones.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_smooth_quads(cavum_quads *quads, const cavum_smoothing *smoothing,
                                cavum_error *error);

#endif
