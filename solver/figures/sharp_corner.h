// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/sharp_corner.h
 * How singular the field is at the corners of the boundary.
 */
#ifndef CAVUM_FIGURES_SHARP_CORNER_H
#define CAVUM_FIGURES_SHARP_CORNER_H

#include "figures/view.h"

/**
 * The smallest exponent lambda of all corners off the axis, at most 1: near them H_phi holds a part
 * that goes as rho^lambda, lambda = pi / angle between two natural boundaries or two with w = 0 and
 * half of that between one of each [Grisvard1985].
 */
double cavum_sharp_corner_weakest_exponent(const cavum_view *view);

/**
 * The sharpest corner at which E grows without bound: metal meets metal (or another natural
 * boundary) at more than 180 degrees, a w = 0 boundary at more than 90 degrees, or the axis at more
 * than 90 degrees.
 *
 * @param[out] corner  Position; untouched when false is returned.
 * @param[in]  view    Its parity decides what a mirror plane is.
 * @return true when there is one.
 */
bool cavum_sharp_corner_find(cavum_point *corner, const cavum_view *view);

#endif
