// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/frame.h
 * The frame in which a contour is meshed, so that mirror images get mirrored meshes.
 */
#ifndef CAVUM_MESHER_FRAME_H
#define CAVUM_MESHER_FRAME_H

#include "mesher/quads.h"

/** How the contour that is meshed follows from the one that was given. */
typedef struct cavum_frame {
  bool mirrored;     /**< z changes its sign, every curve runs backwards. */
  cavum_index first; /**< Curve 0 of the frame is this one of the given (or mirrored) contour. */
  cavum_index num_curves;
} cavum_frame;

/**
 * Chooses the frame: mirrored when the outline leans to the left, beginning at the lowest junction,
 * the leftmost of several.
 * @param[out] frame    The frame.
 * @param[out] inside   The contour in it; owned by the caller (cavum_contour_clear()).
 * @param[in]  contour  As given.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_frame_choose(cavum_frame *frame, cavum_contour *inside,
                                const cavum_contour *contour, cavum_error *error);

/** Brings quadrilaterals back to the given contour; vertices on curves are its own points. */
void cavum_frame_restore(cavum_quads *quads, const cavum_frame *frame,
                         const cavum_contour *contour);

#endif
