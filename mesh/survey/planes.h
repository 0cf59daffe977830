// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/planes.h
 * Where the planes that mirror a measured wall are, by the points beside them.
 */
#ifndef CAVUM_SURVEY_PLANES_H
#define CAVUM_SURVEY_PLANES_H

#include "survey/survey.h"

/** A plane across the axis. Zeroed: the points do not tell where it is. */
typedef struct cavum_survey_plane {
  bool is_known;
  double beyond_m;      /**< How far outside of the drawing's it lies; below 0: inside. */
  double uncertainty_m; /**< Standard. */
} cavum_survey_plane;

/**
 * Where the wall at an end of a run is mirrored. From the plane s along the wall, the deviation of
 * a wall that this plane mirrors is even in s; a plane that lies d farther out moves the wall by d
 * along the axis, which is odd. Least squares of
 *
 *     d n_out + c0 + c1 s^2 + c2 s^4,
 *
 * n_out the outward normal along the axis, as far as the wall turns by 1 rad.
 *
 * @param[out] plane   Known where the drawing meets a plane across the axis at a right angle and
 *                     bends beside it; untouched unless CAVUM_OK.
 * @param[in]  survey  Fitted.
 * @param[in]  run     Of the wall.
 * @param[in]  at_end  Of the run; false: its start.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_plane_find(cavum_survey_plane *plane, const cavum_survey *survey, int run,
                                     bool at_end, cavum_error *error);

/** The planes at both ends of a measured wall, the left one first. */
typedef struct cavum_survey_ends {
  cavum_survey_plane plane[2];
  double z_m[2];        /**< Of the drawing's planes; NAN where the points do not tell. */
  bool is_elsewhere[2]; /**< By more than five uncertainties: the cell has another length. */
} cavum_survey_ends;

/**
 * Finds both.
 * @param[out] ends    Untouched unless CAVUM_OK.
 * @param[in]  survey  Fitted.
 * @param[out] error   May be NULL.
 * @return as cavum_survey_plane_find().
 */
cavum_status cavum_survey_ends_find(cavum_survey_ends *ends, const cavum_survey *survey,
                                    cavum_error *error);

#endif
