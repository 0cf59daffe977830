// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/outliers.h
 * Points that are far from the fit and from their neighbours.
 */
#ifndef CAVUM_SURVEY_OUTLIERS_H
#define CAVUM_SURVEY_OUTLIERS_H

#include "survey/align.h"

/**
 * A first choice of the points, before anything is fitted: those near to the median of their
 * neighbours along the wall, and those that are not alone, as in cavum_survey_reject().
 * @param[out] used       Shape [num_points].
 * @param[in]  view       Of the points.
 * @param[in]  value_m    Of each point, shape [num_points].
 * @param[in]  scatter_m  Stated.
 * @param[out] error      May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_screen(unsigned char *used, const cavum_survey_view *view,
                                 const double *value_m, double scatter_m, cavum_error *error);

/** What is known of points from a fit, shape [num_points] each. */
typedef struct cavum_survey_misfit {
  const double *value_m, *residual_m; /**< Residuals: values less the fit. */
} cavum_survey_misfit;

/**
 * Chooses the points by their distance from a fit: within four robust deviations, or four times
 * the stated scatter; and those that are farther off and not alone, as metal that a smooth fit does
 * not follow: neighbours off to the same side in a run that chance would not make of wild points
 * (a test by runs), or a neighbour with the same value, or two whose line meets the point.
 * @param[in,out] used       Shape [num_points].
 * @param[out]    changed    Whether the choice has.
 * @param[in]     view       Of the points.
 * @param[in]     misfit     From the fit.
 * @param[in]     scatter_m  Stated.
 * @param[out]    error      May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_reject(unsigned char *used, bool *changed, const cavum_survey_view *view,
                                 const cavum_survey_misfit *misfit, double scatter_m,
                                 cavum_error *error);

#endif
