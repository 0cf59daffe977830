// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/band.h
 * Contours that lose a length along the axis, and contours that gain one.
 */
#ifndef CAVUM_CONTOUR_BAND_H
#define CAVUM_CONTOUR_BAND_H

#include "cavum/contour.h"

/** Where a plane across the axis cuts the wall. */
typedef struct cavum_wall_cut {
  cavum_index curve; /**< The piece. */
  double t;          /**< Where on it. */
  double r_m;
} cavum_wall_cut;

/**
 * Where a plane across the axis cuts a contour that it cuts once beside the axis.
 * @param[out] cut      Untouched unless CAVUM_OK.
 * @param[in]  contour  Closed, begins with the axis or not.
 * @param[in]  z_m      The plane.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  the plane does not cut the wall, or more than once.
 */
cavum_status cavum_contour_cut_wall(cavum_wall_cut *cut, const cavum_contour *contour, double z_m,
                                    cavum_error *error);

/**
 * Takes out what is between two planes; what is right of them moves to the left, and both sides are
 * joined.
 *
 * A plane at which the contour ends (or beyond it) is an end: then a piece of the same boundary
 * closes the contour there.
 *
 * @param[out] joined   Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  contour  Closed, with one piece of axis.
 * @param[in]  low_m    Left plane.
 * @param[in]  high_m   Right plane.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  planes that cut the wall more than once or not at all, radii that
 *                             differ, pieces that are used up.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_take_out(cavum_contour *joined, const cavum_contour *contour,
                                    double low_m, double high_m, cavum_error *error);

/**
 * Puts a straight piece of wall along the axis in at a plane: what is right of it moves to the
 * right. At an end of the contour the plane that closes it moves outwards.
 * @param[out] longer    Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  contour   Closed, with one piece of axis.
 * @param[in]  z_m       The plane.
 * @param[in]  length_m  Above 0.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_contour_take_out().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_put_in(cavum_contour *longer, const cavum_contour *contour, double z_m,
                                  double length_m, cavum_error *error);

#endif
