// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file outline_voltage.h
 * The accelerating voltage of particles at the speed of light from H_phi along the outline.
 *
 * A line current exp(j k z) on the axis has the field of a plane wave there, H_phi = 1 / (2 pi r)
 * and E_r = -Z0 H_phi. Reciprocity of that field and the mode [Harrington2001] ch. 3-8 turns the
 * integral of E_z along the axis into one along the outline, where the mode's tangential E is zero:
 *
 *     int e_z exp(j k z) dz = -j Z0 int H_phi exp(j k z) dr    (counterclockwise in (z, r)).
 *
 * The weight is smooth, so the error of this is of the order of that of the frequency, the square
 * of what E_z on the axis has.
 */
#ifndef CAVUM_OUTLINE_VOLTAGE_H
#define CAVUM_OUTLINE_VOLTAGE_H

#include "axis.h"
#include "surface.h"

/**
 * The voltage of cavum_axis_voltage() for beta = 1, where sides->is_empty_and_closed.
 * @param[out] of_abs  Z0 int |H_phi dr| along the outline: what cancels.
 * @param[in]  looks   Shape [sides->num_conducting]: of cavum_surface_look().
 */
cavum_phasor cavum_outline_voltage(double *of_abs, const cavum_view *view,
                                   const cavum_wall_looks *looks);

#endif
