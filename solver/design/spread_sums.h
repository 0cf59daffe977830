// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/spread_sums.h
 * Sums that make the spread of one figure, of a mode or of the shape.
 */
#ifndef CAVUM_DESIGN_SPREAD_SUMS_H
#define CAVUM_DESIGN_SPREAD_SUMS_H

#include "cavum/tolerance.h"

/** Shares of the variance and the deviation, from the slopes of a figure. */
void cavum_spread_fill_linear(cavum_figure_spread *f, const cavum_spread *made);

/**
 * Root mean square of what is not linear in a figure; NAN where nothing is known.
 * @param[out] kept    Shapes that have the figure.
 * @param[in]  f       With its value and slopes.
 * @param[in]  made    Its dimensions.
 * @param[in]  sample  Shape [count]: the figure of drawn shapes; NAN: none.
 * @param[in]  shapes  Shape [count, num_dimensions]: these.
 * @param[in]  count   How many.
 */
double cavum_spread_find_rest(int *kept, const cavum_figure_spread *f, const cavum_spread *made,
                              const double *sample, const double *shapes, int count);

/** Mean, deviation and limits of the samples of a figure, shape [count], which are sorted. */
void cavum_spread_sum_up(cavum_figure_spread *f, double *sample, int count);

#endif
