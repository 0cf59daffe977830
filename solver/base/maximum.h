// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file base/maximum.h
 * The maximum of a smooth function between two points.
 */
#ifndef CAVUM_BASE_MAXIMUM_H
#define CAVUM_BASE_MAXIMUM_H

/** A function of one number. */
typedef double (*cavum_function)(double x, const void *context);

/**
 * Maximum in [x[0], x[2]] by parabolas through the best three points, with golden-section steps
 * where they do not help [Brent1973]. A smooth maximum settles quadratically: a position good to
 * 1e-7 gives the value to rounding.
 *
 * @param[in,out] x      Three points, x[0] <= x[1] <= x[2]; the place goes to x[1].
 * @param[in,out] value  The function there; the maximum goes to value[1].
 * @param[in]     tolerance  Of the place.
 */
void cavum_maximum_find(double x[3], double value[3], double tolerance, cavum_function function,
                        const void *context);

#endif
