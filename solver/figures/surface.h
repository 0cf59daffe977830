// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file surface.h
 * Fields on the metal wall: the loss integral, the two peaks, sharp corners.
 */
#ifndef CAVUM_SURFACE_H
#define CAVUM_SURFACE_H

#include "view.h"

/** oint |H|^2 dS over metal of the whole cell, A^2 at one joule; 0 without metal. */
double cavum_surface_integral_h2(const cavum_view *view);

/** A largest surface field and where it is. */
typedef struct cavum_peak {
  double value;   /**< V/m or A/m at one joule; 0 without metal. */
  cavum_point at;
} cavum_peak;

/**
 * The true maxima of |E| and |H| along the metal: brackets from samples on every edge, then the root
 * of the derivative by golden-section and parabolic steps on the best of them.
 */
void cavum_surface_find_peaks(cavum_peak *electric, cavum_peak *magnetic, const cavum_view *view);

/**
 * The sharpest corner at which E grows without bound: metal meets metal (or another natural
 * boundary) at more than 180 degrees, a w = 0 boundary at more than 90 degrees, or the axis at more
 * than 90 degrees.
 *
 * @param[out] corner  Position; untouched when false is returned.
 * @param[in]  view    Its parity decides what a mirror plane is.
 * @return true when there is one.
 */
bool cavum_surface_find_sharp_corner(cavum_point *corner, const cavum_view *view);

#endif
