// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/outline_voltage.h
 * The accelerating voltage, and the plain integral of E_z, from H_phi along the outline.
 *
 * Reciprocity of a mode and the field of a line current exp(j k_z z) on the axis
 * ([Harrington2001] ch. 3-8, line_current.h) turns the integral of E_z along the axis into one
 * along the outline, where the mode's tangential E is zero. With k_z = k / beta and kappa^2 =
 * k_z^2 - k^2
 *
 *     int e_z exp(j k_z z) dz = -j Z0 int H_phi exp(j k_z z)
 *                     ((kappa r) K_1(kappa r) / beta dr - j (kappa^2 / k) r K_0(kappa r) dz)
 *
 * counterclockwise in (z, r). At the speed of light, where the current's field is a plane wave, the
 * bracket is dr; of a current that is the same everywhere K_0 becomes -(pi/2) Y_0(k r):
 *
 *     int e_z dz = -Z0 (pi/2) int H_phi (k r) Y_0(k r) dz.
 *
 * The weights are smooth, so the error of these is of the order of that of the frequency, the
 * square of what E_z on the axis has.
 */
#ifndef CAVUM_FIGURES_OUTLINE_VOLTAGE_H
#define CAVUM_FIGURES_OUTLINE_VOLTAGE_H

#include "figures/axis.h"
#include "figures/surface.h"

/**
 * The voltage of cavum_axis_voltage() from the outline: of a mode in vacuum that is closed by
 * conductors, where the rule of the samples does justice to the weights.
 * @param[out] voltage  V at one joule.
 * @param[out] of_abs   What cancels: the integral of the sizes of all that is summed, V.
 * @param[in]  samples    Shape [boundary->num_conducting]: of cavum_surface_sample().
 * @return false where only the axis can tell.
 */
bool cavum_outline_voltage(cavum_phasor *voltage, double *of_abs, const cavum_view *view,
                           const cavum_wall_samples *samples, double beta);

/** The int E_z dz of cavum_axis_plain_integrals(), V at one joule, likewise. */
bool cavum_outline_integral(double *integral, double *of_abs, const cavum_view *view,
                            const cavum_wall_samples *samples);

#endif
