// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/spread_shares.h
 * Which dimension makes which part of a sampled spread.
 *
 * A figure of the drawn shapes is fitted by a sum of functions of one dimension each,
 *
 *     y = c + sum_j (a_j u_j + b_j u_j^2 + c_j |u_j|),
 *
 * u_j being dimension j off its value over its standard deviation: the smooth part to second order,
 * and the edge where a peak changes its place. Of independent dimensions the variance of the
 * function of one over that of the figure is its first-order part [Saltelli2010]; what is left is
 * made by several together, or is not of this form. One dimension alone makes all of it.
 */
#ifndef CAVUM_DESIGN_SPREAD_SHARES_H
#define CAVUM_DESIGN_SPREAD_SHARES_H

#include "cavum/tolerance.h"

/**
 * Puts the shares of the samples in the place of the linear ones. Nothing is done where dimensions
 * are correlated, or where there are less than ten samples for each number of the fit.
 * @param[in,out] f       With its value.
 * @param[in]     made    Its dimensions and covariance.
 * @param[in]     sample  Shape [count]: the figure of drawn shapes; NAN: none.
 * @param[in]     shapes  Shape [count, num_dimensions]: these.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_spread_fill_sampled_shares(cavum_figure_spread *f, const cavum_spread *made,
                                              const double *sample, const double *shapes, int count,
                                              cavum_error *error);

#endif
