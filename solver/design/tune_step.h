// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/tune_step.h
 * Where to go next when dimensions are tuned for figures: a Newton step with exact derivatives, of
 * the smallest change, within bounds. Nothing here solves a cell.
 */
#ifndef CAVUM_DESIGN_TUNE_STEP_H
#define CAVUM_DESIGN_TUNE_STEP_H

#include <stdbool.h>

/** Most figures and dimensions of one tuning. */
enum { CAVUM_TUNE_MOST = 16 };

/** A place with its figures and their derivatives. */
typedef struct cavum_tune_point {
  double x[CAVUM_TUNE_MOST];                      /**< Dimensions. */
  double figure[CAVUM_TUNE_MOST];                 /**< Any unit. */
  double slope[CAVUM_TUNE_MOST][CAVUM_TUNE_MOST]; /**< [figure][dimension] */
} cavum_tune_point;

/** What is asked for. */
typedef struct cavum_tune_task {
  int num_figures, num_dimensions;
  double target[CAVUM_TUNE_MOST];
  double size[CAVUM_TUNE_MOST];   /**< Of a figure, above 0: what its misses are measured by. */
  double origin[CAVUM_TUNE_MOST]; /**< Dimensions from which the change is to be small. */
  double scale[CAVUM_TUNE_MOST];  /**< Of a dimension, above 0: what its changes are measured by. */
  double low[CAVUM_TUNE_MOST], high[CAVUM_TUNE_MOST];
} cavum_tune_task;

/**
 * The next place: of all within the bounds that give the figures, as far as the derivatives tell,
 * that with the least sum of squares of the changes from the origin over their scales; where none
 * gives them, that with the least misses.
 *
 * With the place before, the curvature along the last step is known from two values and two slopes
 * a figure (cubic Hermite interpolation), and for other directions as far as the change of the
 * slopes tells it: a third solve then ends where two Newton steps would need a fourth.
 *
 * @param[out] next    Shape [num_dimensions].
 * @param[in]  here    Within the bounds.
 * @param[in]  before  The place before that; NULL: none.
 * @return true when the derivatives say that the figures are met there.
 */
bool cavum_tune_step(double *next, const cavum_tune_task *task, const cavum_tune_point *here,
                     const cavum_tune_point *before);

/** Largest miss over the size of its figure. */
double cavum_tune_miss(const cavum_tune_task *task, const double *figure);

#endif
