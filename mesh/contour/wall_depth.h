// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/wall_depth.h
 * Metal that is moved out of a cell by a depth: the same everywhere, linear in the radius, or a
 * profile along the axis.
 */
#ifndef CAVUM_CONTOUR_WALL_DEPTH_H
#define CAVUM_CONTOUR_WALL_DEPTH_H

#include "cavum/contour.h"

/** Most places of a profile of depths. */
enum { CAVUM_PROFILE_MOST = 200 };

/** How a depth varies along the wall, as shares of a stated one. */
typedef struct cavum_depth_shape {
  double iris_share; /**< At the smallest radius of the metal; 1 at the largest, linear in r. 1: the
                          same everywhere. */
  int num_places;    /**< Of a profile; 0: none. */
  double z_m[CAVUM_PROFILE_MOST];   /**< Rising. */
  double share[CAVUM_PROFILE_MOST]; /**< There; smooth between, the same beyond the ends. */
} cavum_depth_shape;

/** A depth along the wall of one contour. */
typedef struct cavum_wall_depth {
  const cavum_depth_shape *along;
  double depth_m, least_r_m, largest_r_m;
} cavum_wall_depth;

/** Share of a profile at a place on the axis. */
double cavum_depth_share_at(const cavum_depth_shape *along, double z_m);

/** The depth along a contour: `along` is borrowed. */
cavum_wall_depth cavum_wall_depth_make(const cavum_contour *contour, const cavum_depth_shape *along,
                                       double depth_m);

/** Depth at a point of the wall. */
double cavum_wall_depth_of(cavum_point point, const cavum_wall_depth *depth);

/**
 * Moves the metal of a contour along its normals, out of the cell; the result is checked.
 *
 * By the same depth everywhere the moved curves are exact parallels, as long as their form has
 * room for it; else cubics (contour/graded.h).
 *
 * @param[in,out] contour  Owned by the caller; unchanged unless CAVUM_OK.
 * @param[in]     depth_m  Below 0: into the cell.
 * @param[in]     along    How it varies.
 * @param[in]     check    False: it is known to be a contour, next to one that was checked.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_contour_move_along_normals() and
 *                             cavum_contour_move_by_depth(), or the result is no contour.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_move_wall(cavum_contour *contour, double depth_m,
                                     const cavum_depth_shape *along, bool check,
                                     cavum_error *error);

#endif
