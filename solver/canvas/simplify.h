// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/simplify.h
 * Chains of points without those that nobody would miss.
 */
#ifndef CAVUM_CANVAS_SIMPLIFY_H
#define CAVUM_CANVAS_SIMPLIFY_H

#include <stdint.h>

/**
 * Marks the points of a chain that must stay for every other to be within a tolerance of the line
 * through those that stay: the one farthest from the chord, then the same on both sides of it
 * (Ramer 1972, Douglas and Peucker 1973).
 * @param[in,out] needed     Shape [last + 1]: set to 1 for points that stay, first and last too.
 * @param[out]    stack      Work space, shape [2 (last - first) + 4].
 * @param[in]     points     x, y of each, shape [last + 1, 2].
 * @param[in]     first      First point of the chain.
 * @param[in]     last       Last point of the chain, >= first.
 * @param[in]     tolerance  In the unit of the points.
 */
void cavum_simplify_mark(unsigned char *needed, int64_t *stack, const double *points, int64_t first,
                         int64_t last, double tolerance);

#endif
