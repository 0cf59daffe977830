// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/mode_figures.h
 * All figures of one mode at one degree, without uncertainties.
 */
#ifndef CAVUM_FIGURES_MODE_FIGURES_H
#define CAVUM_FIGURES_MODE_FIGURES_H

#include "figures/axis.h"
#include "figures/surface.h"
#include "figures/view.h"

/** Least particle speed over c of the R/Q curve. */
#define CAVUM_BETA_CURVE_FIRST 0.05
/** Points of the R/Q curve: beta 0.05 to 1 in steps of 0.01. */
enum { CAVUM_BETA_POINTS = 96 };

/**
 * The outline is no use where so much more is summed than on the axis: what the iteration left in
 * the vector would count so many times. (At the speed of light it is better all the same.)
 */
#define CAVUM_CANCELLATION_MOST 5.0

/** Speeds over c that differ by less are the same. */
#define CAVUM_SAME_BETA 1e-14

/** Figures of one mode at one degree. */
typedef struct cavum_mode_values {
  cavum_figure figures[CAVUM_NUM_FIGURES]; /**< Uncertainties: of the formula of estimates and fits,
                                              else 0. */
  double voltage_of_beta[CAVUM_BETA_POINTS]; /**< V at one joule; zero unless asked for. */
  // What vanishes shows in *_over_abs, what the error of the vector costs in *_rcond; all 0 without
  // an axis.
  double integral_over_abs, voltage_over_abs; /**< |int E_z dz| and V over int |E_z| dz. */
  bool has_sums;                              /**< The next four are known. */
  cavum_phasor at_beta; /**< V at the speed of the cell, and whether it comes from the axis. */
  bool at_beta_of_axis, plain_of_axis;
  double plain_v;       /**< int E_z dz, likewise. */
  double axis_length_m; /**< Of the axis of the whole cell; 0 without. */
  double terms_v; /**< What V is the sum of: int |E_z| dz, or the integral of the sizes along the
                       outline where V comes from it and that is larger. */
  double voltage_rcond;  /**< V over that. */
  double integral_rcond; /**< |int E_z dz| over what it is the sum of. */
  double optimum_rcond;  /**< V over what it is the sum of, at the speed of the largest V. */
  double wall_e_over_h;  /**< Largest |E| on metal over eta0 times the largest |H|; 0 without. */
  // How slowly figures converge (sharp_corner.h): those without a voltage, those with one, and
  // those with int E_z dz. Tips on the axis count twice as much where the integral is one along it.
  double corner_exponent, voltage_exponent, integral_exponent;
  double optimum_exponent;  // of the largest voltage of all speeds
  double axis_exponent;     // of what is certainly integrated along the axis
  double mixing; /**< Relative error of the vector that no degree takes away: what rounding mixes
                      into it of a nearly degenerate mode. Set by whoever knows the other modes. */
  cavum_accelerating_length length;
} cavum_mode_values;

/** beta of point i of the R/Q curve. */
double cavum_mode_beta_point(int i);

/**
 * The accelerating length of a cell: as given; 2 x half_length (left + right half_length when they
 * differ) for a two-ellipse cell; otherwise beta lambda / 2 at the mode's frequency.
 */
cavum_accelerating_length cavum_mode_accelerating_length(const cavum_cell *cell,
                                                         double frequency_hz);

/**
 * Only the members *_over_abs and *_rcond and terms_v of cavum_mode_values, without optimum_rcond.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mode_measure_cancellation(cavum_mode_values *values, const cavum_view *view,
                                             const cavum_cell *cell, cavum_error *error);

/**
 * Computes the figures.
 * @param[out] values   Untouched unless CAVUM_OK.
 * @param[in]  view     The mode at one joule.
 * @param[in]  cell     Particle speed, length, wall, ends.
 * @param[in]  curves   Also fill voltage_of_beta.
 * @param[in]  beta_hint  Speed of the largest R/Q at another degree, or 0.
 * @param[out] samples    Shape [boundary->num_conducting]: the fields along the outline.
 * @retval CAVUM_ERR_MEMORY
 * @retval CAVUM_ERR_RANGE   the stated wall has no surface resistance at this frequency.
 */
cavum_status cavum_mode_compute_figures(cavum_mode_values *values, const cavum_view *view,
                                        const cavum_cell *cell, bool curves, double beta_hint,
                                        cavum_wall_samples *samples, cavum_error *error);

#endif
