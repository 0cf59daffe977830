// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/curve_cut.h
 * A part of a curve, or more of it, as a curve of the same kind.
 */
#ifndef CAVUM_CONTOUR_CURVE_CUT_H
#define CAVUM_CONTOUR_CURVE_CUT_H

#include "contour/parallel.h"

/** Point and derivatives by the formula of a curve at any t, whatever ends are stored. */
cavum_parallel_place cavum_curve_formula_at(const cavum_curve *curve, double t);

/** Makes a curve the part of it from one parameter to a larger one, which may be beyond its ends;
 * its ends become the given points. */
void cavum_curve_cut(cavum_curve *curve, double from, double to, cavum_point start,
                     cavum_point end);

#endif
