// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/spread_shape.h
 * What tolerances make of the figures of the shape, which need no solve.
 */
#ifndef CAVUM_DESIGN_SPREAD_SHAPE_H
#define CAVUM_DESIGN_SPREAD_SHAPE_H

#include "cavum/tolerance.h"
#include "design/trial.h"

/** Values and linear spreads of the cell as it stands. */
cavum_status cavum_spread_shape_measure(cavum_spread *made, const cavum_trial *trial,
                                        cavum_error *error);

/**
 * Whether these hold for drawn shapes.
 * @param[in,out] made    Measured.
 * @param[in]     trial   Its dimensions.
 * @param[in]     values  Shape [count, num_dimensions].
 * @param[in]     count   How many.
 * @param[in]     most    Part of the deviation up to which what is not linear is of no account.
 * @param[out]    error   May be NULL.
 */
cavum_status cavum_spread_shape_check(cavum_spread *made, const cavum_trial *trial,
                                      const double *values, int count, double most,
                                      cavum_error *error);

/** Sampled spreads, shape [count, num_dimensions], of figures whose linear one does not hold. */
cavum_status cavum_spread_shape_sample(cavum_spread *made, const cavum_trial *trial,
                                       const double *values, int count, cavum_error *error);

#endif
