// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built/built_survey.h
 * What the points say beside the wall: where its planes are, and which points were left out.
 */
#ifndef CAVUM_AS_BUILT_BUILT_SURVEY_H
#define CAVUM_AS_BUILT_BUILT_SURVEY_H

#include "cavum/as_built.h"
#include "survey/survey.h"

/**
 * Fills the planes at both ends.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_planes_fill(cavum_as_built *made, const cavum_survey *survey,
                                     cavum_error *error);

/**
 * Fills the outliers.
 * @param[in,out] made  With their number.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_outliers_fill(cavum_as_built *made, const cavum_survey *survey,
                                       cavum_error *error);

#endif
