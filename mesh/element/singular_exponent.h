// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/singular_exponent.h
 * How singular a field is where two sides of an outline meet.
 */
#ifndef CAVUM_ELEMENT_SINGULAR_EXPONENT_H
#define CAVUM_ELEMENT_SINGULAR_EXPONENT_H

#include <stdbool.h>

/**
 * Exponent lambda of a corner off the axis: near it H_phi holds a part that goes as rho^lambda, and
 * E one that goes as rho^(lambda - 1) [Grisvard1985].
 * @param[in] interior_rad  Angle inside the domain.
 * @param[in] mixed         One side has w = 0 (magnetic), the other has not.
 */
double cavum_corner_exponent(double interior_rad, bool mixed);

/**
 * Exponent nu of the tip of a cone, where a wall meets the axis: E goes as rho^(nu - 1), with
 * P_nu(cos alpha) = 0 on a natural side and P_nu^1(cos alpha) = 0 on a magnetic one [Olver2010] 14.
 * Beyond a right angle nu falls from 1 to 0, or from 2 to 1; this is an approximation there, good
 * to 0.08, and not less than 0.2. Up to a right angle it is good to 0.02 on a natural side, and 2,
 * the least that nu can be there, on a magnetic one.
 * @param[in] interior_rad  Angle inside the domain between axis and wall.
 * @param[in] magnetic      The wall has w = 0.
 */
double cavum_tip_exponent(double interior_rad, bool magnetic);

#endif
