// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/canonical.h
 * The canonical form in which a contour is meshed, so that mirror images get mirrored meshes.
 */
#ifndef CAVUM_MESHER_CANONICAL_H
#define CAVUM_MESHER_CANONICAL_H

#include "mesher/quads.h"

/** How the contour that is meshed follows from the one that was given. */
typedef struct cavum_canonical {
  bool mirrored; /**< z changes its sign, every curve runs backwards. */
  cavum_index
      first; /**< Curve 0 of the canonical form is this one of the given (or mirrored) contour. */
  cavum_index num_curves;
} cavum_canonical;

/**
 * Finds the canonical form: mirrored when the outline leans to the left, beginning at the lowest
 * junction, the leftmost of several.
 * @param[out] canonical  How it follows from the contour.
 * @param[out] inside     The contour in that form; owned by the caller (cavum_contour_clear()).
 * @param[in]  contour    As given.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_canonical_choose(cavum_canonical *canonical, cavum_contour *inside,
                                    const cavum_contour *contour, cavum_error *error);

/** Brings quadrilaterals back to the given contour; vertices on curves are its own points. */
void cavum_canonical_restore(cavum_quads *quads, const cavum_canonical *canonical,
                             const cavum_contour *contour);

#endif
