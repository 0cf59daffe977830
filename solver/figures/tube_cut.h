// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tube_cut.h
 * What cutting a beam tube somewhere does to f and R/Q.
 */
#ifndef CAVUM_TUBE_CUT_H
#define CAVUM_TUBE_CUT_H

#include "axis.h"

/** Changes from tube ends electric to tube ends magnetic; first order in the decayed field. */
typedef struct cavum_tube_cut {
  bool present;               /**< A tube end below cut-off was found. */
  double frequency_change_hz; /**< f(magnetic) - f(electric). */
  double r_over_q_change_ohm; /**< Linac R/Q likewise. */
} cavum_tube_cut;

/**
 * Estimates the changes from the field at the tube ends of a solved mode.
 *
 * In the tube the mode decays as exp(-a l) with a^2 = (x01 / radius)^2 - k^2. An electric end
 * reflects it with one sign, a magnetic end with the other, so
 *
 *     k2(magnetic) - k2(electric) = a int c w^2 dr / b(w, w),  w of the electric closure,
 *     V(magnetic) - V(electric) = -2 sum over ends of the reflected wave's int E_z exp(j k z/beta)
 * dz.
 *
 * @param[in] view      The mode.
 * @param[in] left      End at the smallest z: tube_length_m <= 0 for none; ignored in half models.
 * @param[in] right     End at the largest z.
 * @param[in] voltage   V of the mode as computed, at one joule.
 * @param[in] beta      Particle speed over c.
 */
cavum_tube_cut cavum_tube_cut_estimate(const cavum_view *view, const cavum_end *left,
                                       const cavum_end *right, cavum_phasor voltage, double beta);

#endif
