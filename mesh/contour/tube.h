// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/tube.h
 * Beam tubes at the ends of a contour.
 */
#ifndef CAVUM_CONTOUR_TUBE_H
#define CAVUM_CONTOUR_TUBE_H

#include "cavum/contour.h"

/** A tube that ends in a plane. */
typedef struct cavum_contour_tube {
  double length_m; /**< From the plane as far as the radius stays nearly the same. */
  double radius_m; /**< At the plane. */
  double taper; /**< Largest change of the radius along it, over the radius, where a field that ends
                     at the plane is: times exp(-2 x01 l / radius) at a distance l, x01 the zero of
                     J0; 0 for a round tube. */
} cavum_contour_tube;

/**
 * Finds the tube whose end is closed by a plane at an end of the axis.
 * @param[out] tube      Untouched unless there is one.
 * @param[in]  contour   Checked.
 * @param[in]  at_right  At the larger z.
 * @param[in]  close     What the plane is.
 * @return false where no such plane is there, or no metal that is nearly straight leads to it.
 */
bool cavum_contour_find_tube(cavum_contour_tube *tube, const cavum_contour *contour, bool at_right,
                             cavum_boundary close);

#endif
