// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/axis_vertices.h
 * How well the elements agree where they meet on the axis.
 */
#ifndef CAVUM_FIGURES_AXIS_VERTICES_H
#define CAVUM_FIGURES_AXIS_VERTICES_H

#include "figures/view.h"

/**
 * What E_z may be off by at the vertices on the axis.
 *
 * E_r / r is continuous along the axis; of elements of degree p it jumps by J at a vertex. What is
 * off there is a spike of E_z. The least one that polynomials of degree p carry at the end of an
 * edge of length h, sum (2 n + 1) P_n, has p^2 / (2 h) of its height as its slope, so that in
 * vacuum the height is
 *
 *     a = 4 |J| / (p^2 (1 / h_left + 1 / h_right))
 *
 * Two degrees may agree at a vertex by chance, while both are off; the jump tells.
 *
 * @param[out] error_v_per_m  At one joule, shape [num_vertices]; 0 elsewhere, and where the axis
 *                            ends.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_axis_vertices_error(double *error_v_per_m, const cavum_view *view,
                                       cavum_error *error);

#endif
