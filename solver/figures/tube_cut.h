// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/tube_cut.h
 * What cutting a beam tube somewhere does to f and R/Q.
 */
#ifndef CAVUM_FIGURES_TUBE_CUT_H
#define CAVUM_FIGURES_TUBE_CUT_H

#include "contour/tube.h"
#include "figures/axis.h"

/** A tube whose far end is closed by a plane. */
typedef struct cavum_cut_tube {
  bool is_there;
  cavum_contour_tube shape; /**< Its taper counts as uncertainty. */
  cavum_boundary close;     /**< ELECTRIC or MAGNETIC. */
} cavum_cut_tube;

/** Changes from tube ends electric to tube ends magnetic; first order in the decayed field. */
typedef struct cavum_tube_cut {
  bool present;               /**< A tube end below cut-off was found. */
  double frequency_change_hz; /**< f(magnetic) - f(electric). */
  double frequency_error_hz;  /**< What the first order leaves open. */
  double r_over_q_change_ohm; /**< Linac R/Q likewise. */
  double r_over_q_error_ohm;  /**< Likewise. */
} cavum_tube_cut;

/**
 * Estimates the changes from the field at the tube ends of a solved mode.
 *
 * In the tube the wave n decays as exp(-a_n l) with a_n^2 = (x0n / radius)^2 - k^2. An electric end
 * reflects it with one sign, a magnetic end with the other, so
 *
 *     k2(magnetic) - k2(electric) = sum over n of a_n int c w_n^2 dr / b(w, w),  w electric,
 *     V(magnetic) - V(electric) = -2 sum over ends and n of the reflected wave's int E_z exp(j k
 *     z/beta) dz.
 *
 * The waves TM01 to TM03 are told apart by projecting the end field on J1(x0n r / radius).
 *
 * Errors. With the reflection of the cell at the iris, B / A = (k2 - k2_infinite) / D, an end at
 * distance L gives k2 - k2_infinite = -+ g, g = |D| exp(-2 a L). The field of one closure gives
 * 2 g / (1 -+ dg/dk2) at its own k2, wrong by the factor 2 s g with s = d(ln g)/dk2. Of s the tube
 * gives L / a, and D, which comes from the field in the cell, changes over distances of the size
 * a^2 (the tube), k2 (other modes) and D itself (where the closure at the iris would put k2). So
 * the second order is, relative, (L / a + 1 / a^2 + 1 / k2) |change of k2| and exp(-2 a L). R/Q is
 * wrong by it too, since U is that of one closure, and by what the reflected wave, exp(-a L) of
 * itself at the iris, does in the cell. Waves beyond TM03 are left out and count in full.
 *
 * A tube that is not quite round along its length decays by another a there: what the taper t makes
 * of it, x0n^2 t / (radius a)^2, counts as uncertainty, too.
 *
 * @param[in] view      The mode.
 * @param[in] left      At the smallest z; ignored in half models.
 * @param[in] right     At the largest z.
 * @param[in] voltage   V of the mode as computed, at one joule.
 * @param[in] beta      Particle speed over c.
 */
cavum_tube_cut cavum_tube_cut_estimate(const cavum_view *view, const cavum_cut_tube *left,
                                       const cavum_cut_tube *right, cavum_phasor voltage,
                                       double beta);

#endif
