// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/edge_jumps.h
 * How well the elements agree where they meet.
 */
#ifndef CAVUM_FIGURES_EDGE_JUMPS_H
#define CAVUM_FIGURES_EDGE_JUMPS_H

#include "figures/view.h"

/**
 * By how much the tangential E jumps at most at the edges of each element: what one element is off
 * by, or its neighbour, or either by half of it. On metal and electric planes, where it is zero,
 * the image of the element has the opposite one.
 *
 * @param[out] jump_v_per_m  At one joule, shape [num_elements].
 */
void cavum_edge_jumps_measure(double *jump_v_per_m, const cavum_view *view);

#endif
