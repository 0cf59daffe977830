// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/two_ellipse_rate.h
 * How the contour of a two-ellipse cell moves with its dimensions.
 */
#ifndef CAVUM_CONTOUR_TWO_ELLIPSE_RATE_H
#define CAVUM_CONTOUR_TWO_ELLIPSE_RATE_H

#include "cavum/cell.h"
#include "contour/curve_rate.h"

/** Rates of the dimensions of a two-ellipse cell: of the halves, and of length and radius of the
 * tubes. */
typedef struct cavum_two_ellipse_way {
  cavum_half_cell left, right;
  cavum_end left_end, right_end;
} cavum_two_ellipse_way;

/**
 * Rates of the curves of cavum_two_ellipse_build() when the dimensions change at given rates.
 *
 * The common tangent is the root m of g(m) = 0 (two_ellipse.h), so its rate is that of g at fixed m
 * over -dg/dm; the points of contact are (A^2 / E, R - B + B^2 m / E) with E^2 = A^2 + B^2 m^2, and
 * likewise at the iris.
 *
 * @param[out] rates    Shape [contour->num_curves].
 * @param[in]  contour  Of this cell and part.
 * @return false where the contour changes its pieces: ellipses that touch without a straight piece
 *         between them.
 */
bool cavum_two_ellipse_rate(cavum_curve_rate *rates, const cavum_contour *contour,
                            const cavum_cell *cell, cavum_cell_part part,
                            const cavum_two_ellipse_way *way);

#endif
