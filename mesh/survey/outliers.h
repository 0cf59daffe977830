// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/outliers.h
 * Points that are far from their neighbours or from the fit.
 */
#ifndef CAVUM_SURVEY_OUTLIERS_H
#define CAVUM_SURVEY_OUTLIERS_H

#include "survey/align.h"

/**
 * A first choice of the points, before anything is fitted: those near to the median of their
 * neighbours along the wall.
 * @param[out] used       Shape [num_points].
 * @param[in]  view       Of the points.
 * @param[in]  value_m    Of each point, shape [num_points].
 * @param[in]  scatter_m  Stated.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_screen(unsigned char *used, const cavum_survey_view *view,
                                 const double *value_m, double scatter_m, cavum_error *error);

/**
 * Chooses the points by their distance from a fit: within four robust deviations, or four times
 * the stated scatter.
 * @param[in,out] used        Shape [num_points].
 * @param[out]    work        Shape [num_points].
 * @param[in]     view        Of the points.
 * @param[in]     residual_m  From the fit, shape [num_points].
 * @param[in]     scatter_m   Stated.
 * @return whether the choice has changed.
 */
bool cavum_survey_reject(unsigned char *used, double *work, const cavum_survey_view *view,
                         const double *residual_m, double scatter_m);

#endif
