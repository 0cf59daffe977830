// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/axial_length.h
 * Lengths along the axis that a contour gains or loses at its equator or its irises.
 */
#ifndef CAVUM_CONTOUR_AXIAL_LENGTH_H
#define CAVUM_CONTOUR_AXIAL_LENGTH_H

#include "cavum/contour.h"

/** Where a length is gained or lost. */
typedef enum cavum_wall_place {
  CAVUM_AT_EQUATOR,
  CAVUM_AT_IRIS, /**< Both. */
  CAVUM_AT_LEFT_IRIS,
  CAVUM_AT_RIGHT_IRIS
} cavum_wall_place;

/** Where the equator of a contour is: its mirror plane, or its widest place, of a straight piece
 * its middle. */
double cavum_contour_equator_m(const cavum_contour *contour);

/** Both ends of the axis of a contour; untouched where it has none. */
void cavum_contour_find_ends(double *left_m, double *right_m, const cavum_contour *contour);

/** Length of a contour along the axis. */
double cavum_contour_length_m(const cavum_contour *contour);

/**
 * Makes a contour longer by a straight piece on each side of a place, or shorter; the result is
 * checked. At an iris that is the plane where the contour ends.
 * @param[in,out] contour   Owned by the caller; unchanged unless CAVUM_OK.
 * @param[in,out] factor    Multiplied by how much longer the whole has become.
 * @param[in]     place     Where.
 * @param[in]     length_m  Of each side; below 0: taken out.
 * @param[out]    error     May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_contour_take_out() and cavum_contour_put_in(), more than the
 *                             whole length is taken, or the result is no contour.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_contour_add_length(cavum_contour *contour, double *factor,
                                      cavum_wall_place place, double length_m, cavum_error *error);

#endif
