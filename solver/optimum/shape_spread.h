// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/shape_spread.h
 * What tolerances make of a figure of the shape, in the worse half.
 */
#ifndef CAVUM_OPTIMUM_SHAPE_SPREAD_H
#define CAVUM_OPTIMUM_SHAPE_SPREAD_H

#include "cavum/geometry.h"
#include "cavum/tolerance.h"

/**
 * Linear standard deviation of a figure of the shape. One that is the smaller of both halves, as
 * the lean of the wall, is that of the half whose deviation is larger: a dimension that errs in one
 * half alone does nothing to the other. Of the straight wall it is that of its square, in m^2: the
 * length itself vanishes as a root does.
 * @param[out] deviation   SI; untouched unless CAVUM_OK.
 * @param[in]  cell        Its shape.
 * @param[in]  tolerances  Of its dimensions.
 * @param[in]  figure      Which.
 * @retval CAVUM_ERR_INPUT  a figure that the cell does not have, or that has no derivative by a
 *                          dimension with a tolerance. Else as cavum_geometry_measure().
 */
cavum_status cavum_shape_spread_find(double *deviation, const cavum_cell *cell,
                                     const cavum_tolerances *tolerances, cavum_geometry_id figure,
                                     cavum_error *error);

/**
 * What tolerances add to the mean of a figure of the shape, to second order. One that is the
 * smaller of two halves which agree is the mean of the smaller one: each half is linear with its
 * own curvature.
 * @param[out] shift   SI; untouched unless CAVUM_OK.
 * @param[in]  draws   Of cavum_mean_draws_make().
 * @param[in]  root    Shape [count, count]: of the correlation of the tolerances.
 * @retval CAVUM_ERR_GEOMETRY  a shape within a tenth of the tolerances is none. Else as above.
 */
cavum_status cavum_shape_mean_find(double *shift, const cavum_cell *cell,
                                   const cavum_tolerances *tolerances, const double *draws,
                                   const double *root, cavum_geometry_id figure,
                                   cavum_error *error);

#endif
