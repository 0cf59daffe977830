// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/graded.h
 * Contours whose metal is moved along its normals by a depth that is not the same everywhere.
 */
#ifndef CAVUM_CONTOUR_GRADED_H
#define CAVUM_CONTOUR_GRADED_H

#include "cavum/contour.h"

/** Depth at a point of the wall, in metres, out of the domain; smooth. */
typedef double cavum_depth_at(cavum_point point, const void *data);

/**
 * Moves the metal of a contour. Lines whose depth is linear along them stay lines; other pieces
 * become cubic splines through exactly moved points, as many as it takes for points between them to
 * be within 1e-10 m.
 *
 * @param[out] moved    Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  contour  Closed.
 * @param[in]  depth    Depth at a point.
 * @param[in]  data     Handed on to it.
 * @param[out] error    May be NULL; the message names the place.
 * @retval CAVUM_ERR_GEOMETRY  a fillet that is swallowed, pieces that do not meet or are used up, a
 *                             depth that changes too fast to be followed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_move_by_depth(cavum_contour *moved, const cavum_contour *contour,
                                         cavum_depth_at *depth, const void *data,
                                         cavum_error *error);

#endif
