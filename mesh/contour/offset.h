// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/offset.h
 * Contours whose pieces are moved along their normals, and contours that are scaled: exact maps of
 * curves.
 */
#ifndef CAVUM_CONTOUR_OFFSET_H
#define CAVUM_CONTOUR_OFFSET_H

#include "cavum/contour.h"

/**
 * The parallel of a contour: lines are shifted, arcs of circles change their radius, ellipses and
 * cubics become parallels of themselves. Corners stay sharp: the moved neighbours are cut short or
 * go on to where they meet. A piece that stays is cut or goes on as well.
 *
 * The result is no contour yet: it may cross itself, which cavum_contour_check() finds.
 *
 * @param[out] moved    Owned by the caller; untouched unless CAVUM_OK. As many pieces as before.
 * @param[in]  contour  Closed.
 * @param[in]  offsets_m  Of each piece to the right of travel, out of the domain; shape
 *                        [num_curves].
 * @param[out] error    May be NULL; the message names the piece, from 1, and the place.
 * @retval CAVUM_ERR_GEOMETRY  a fillet that is swallowed: its radius of curvature is not larger
 *                             than the offset to its inside; a piece that is used up between its
 *                             neighbours; neighbours that do not meet; a piece that was moved and
 *                             stretched in turn too often.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_move_along_normals(cavum_contour *moved, const cavum_contour *contour,
                                              const double *offsets_m, cavum_error *error);

/**
 * Brings neighbours together that were moved: cut short, or going on to where they meet.
 * @param[in,out] moved    Pieces, shape [num_curves of was].
 * @param[in]     was      The contour before.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_contour_move_along_normals().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_join_pieces(cavum_curve *moved, const cavum_contour *was,
                                       cavum_error *error);

/** Scales a contour about z = 0, r = 0; both factors above 0. Joints stay the same to the bit. */
void cavum_contour_scale(cavum_contour *contour, double along_z, double along_r);

#endif
