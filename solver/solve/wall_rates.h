// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/wall_rates.h
 * Derivatives of the fields along the wall by dimensions.
 */
#ifndef CAVUM_SOLVE_WALL_RATES_H
#define CAVUM_SOLVE_WALL_RATES_H

#include "solve/mode_functionals.h"

/** How the curves of a mesh move with each dimension. */
typedef struct cavum_wall_motion {
  int count;                     /**< Of dimensions. */
  cavum_index num_curves;        /**< Of the mesh. */
  const cavum_curve_rate *rates; /**< Borrowed, shape [count][num_curves]. */
  const bool *known; /**< Borrowed, shape [count]: the contour moves smoothly with it, and a half
                          model says all. */
} cavum_wall_motion;

/**
 * Fills wall_e_by and wall_h_by of a mode: of E and H at the points of its wall profile, which stay
 * at the same parameter of their curve, at one joule, with their uncertainties. One adjoint solve
 * for each point, field and degree whatever the number of dimensions. The uncertainty is that of
 * the derivative's own values at the degrees of the solution; NaN where that has one degree alone.
 * NaN by dimensions that are not known, and everywhere where another mode is too close for the
 * solves.
 * @param[in,out] mode    With its wall profile.
 * @param[in]     input   Its degree, adjoints, peaks and parts are not used.
 * @param[in]     motion  Of the mesh of the solution.
 * @param[in]     above   Only where a field is at least this part of its largest value; NaN
 *                        elsewhere.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_wall_rates_add(cavum_mode_result *mode,
                                  const cavum_mode_functionals_input *input,
                                  const cavum_wall_motion *motion, double above,
                                  cavum_error *error);

#endif
