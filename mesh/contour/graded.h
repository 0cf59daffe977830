// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/graded.h
 * Contours whose metal is moved along its normals by a depth that is not the same everywhere.
 */
#ifndef CAVUM_CONTOUR_GRADED_H
#define CAVUM_CONTOUR_GRADED_H

#include "cavum/contour.h"

/** Depth on a curve of the contour at its parameter t, in metres, out of the domain; smooth. */
typedef double cavum_depth_at(const cavum_curve *curve, double t, const void *data);

/** A depth along the wall, and how near points between the ends of cubics must come. */
typedef struct cavum_graded_depth {
  cavum_depth_at *at;
  const void *data; /**< Handed on to it. */
  double close_m;   /**< CAVUM_GRADED_CLOSE_M, or more. */
} cavum_graded_depth;

/** Near enough for a depth that is known exactly. */
#define CAVUM_GRADED_CLOSE_M 1e-10

/**
 * Moves the metal of a contour. Lines whose depth is linear along them stay lines; other pieces
 * become cubics with exactly moved ends and directions there, as many as it takes for points
 * between them to be near enough (contour/cubic_fit.h). A smooth wall stays smooth.
 *
 * @param[out] moved    Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  contour  Closed.
 * @param[in]  depth    Along it.
 * @param[out] error    May be NULL; the message names the place.
 * @retval CAVUM_ERR_GEOMETRY  a fillet that is swallowed, pieces that do not meet or are used up, a
 *                             depth that changes too fast to be followed.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_move_by_depth(cavum_contour *moved, const cavum_contour *contour,
                                         const cavum_graded_depth *depth, cavum_error *error);

#endif
