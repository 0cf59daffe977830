// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/gaps.h
 * Whether the points of a run are near enough to each other.
 */
#ifndef CAVUM_SURVEY_GAPS_H
#define CAVUM_SURVEY_GAPS_H

#include "survey/wall.h"

/**
 * Looks for gaps between points.
 * @param[in,out] along_m        Places of the points along the run; sorted. Shape [num_points].
 * @param[in]     num_points     May be 0.
 * @param[in]     wall           Of the drawing.
 * @param[in]     run            Of the wall.
 * @param[in]     largest_gap_m  0: by the curvature.
 * @param[in]     name           Of the file with the points.
 * @param[out]    error          May be NULL; the message has the place of the gap.
 * @retval CAVUM_ERR_GEOMETRY  a gap.
 */
cavum_status cavum_survey_check_gaps(double *along_m, int64_t num_points,
                                     const cavum_survey_wall *wall, int run, double largest_gap_m,
                                     const char *name, cavum_error *error);

#endif
