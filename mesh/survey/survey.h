// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/survey.h
 * A wall as it was measured: the drawing, moved along its normals by a smooth deviation.
 */
#ifndef CAVUM_SURVEY_SURVEY_H
#define CAVUM_SURVEY_SURVEY_H

#include "survey/align.h"
#include "survey/smooth.h"

/** What is known of the points, in metres. */
typedef struct cavum_survey_settings {
  double scatter_m;      /**< Standard deviation of a point along the normal, above 0. */
  double probe_radius_m; /**< Of the ball whose centre was measured; 0: points of the wall. */
  double largest_gap_m;  /**< Between neighbours along the wall; 0: by the curvature. */
  cavum_survey_motion motion;
} cavum_survey_settings;

/** A fitted survey. Zero-initialise. */
typedef struct cavum_survey {
  cavum_contour drawing; /**< Owned. */
  cavum_survey_wall wall;
  cavum_survey_view view;
  cavum_survey_settings settings;
  double *deviation_m; /**< Owned: of each point from the drawing, outwards, shape [num_points]. */
  unsigned char *used; /**< Owned: 0 for outliers and points beyond the wall, shape [num_points]. */
  cavum_smooth *runs;  /**< Owned, shape [wall.num_runs]. */
  int64_t num_outliers, num_beyond, num_used;
  double found_scatter_m; /**< Of the points about the fit, by its degrees of freedom. */
  double scatter_m;       /**< Of both the larger, where chance does not explain the difference:
                                what is smoothed by and carried. */
} cavum_survey;

/** Frees a survey and empties it. */
void cavum_survey_clear(cavum_survey *survey);

/**
 * Fits a survey: best fit to the drawing, probe radius taken off, outliers found as points that
 * are more than four robust deviations off and alone there, a smoothing spline of each run from
 * corner to corner.
 *
 * Between neighbouring points, and before the first and behind the last of a run, the wall may turn
 * by 0.5 rad and go on for a quarter of the run, unless a largest gap is stated.
 *
 * @param[out] survey   Untouched unless CAVUM_OK.
 * @param[in]  drawing   Closed contour; copied.
 * @param[in]  points    As measured.
 * @param[in]  settings  Of the measurement.
 * @param[in]  name      Of the file with the points, for messages.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  no metal, or a gap, with its place.
 * @retval CAVUM_ERR_INPUT     points of another cell, too many outliers.
 * @retval CAVUM_ERR_LIBRARY   GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_fit(cavum_survey *survey, const cavum_contour *drawing,
                              const cavum_survey_points *points,
                              const cavum_survey_settings *settings, const char *name,
                              cavum_error *error);

/** Deviation of the wall from the drawing at a place of a run, outwards. */
double cavum_survey_deviation_m(const cavum_survey *survey, int run, double along_m);

/**
 * The contour as it was measured: corners and junctions where the drawing has them.
 * @param[out] contour  Owned by the caller; untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_contour_move_by_depth().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_contour(cavum_contour *contour, const cavum_survey *survey,
                                  cavum_error *error);

/**
 * Standard uncertainty, by the scatter of the points, of a sum over places of the wall of a weight
 * times the deviation there: of a figure, with its densities along the wall.
 * @param[out] standard    In the unit of the weights times metre; untouched unless CAVUM_OK.
 * @param[in]  survey     Fitted.
 * @param[in]  places      Feet on its wall, shape [num_places].
 * @param[in]  weights     Shape [num_places].
 * @param[in]  num_places  At least 1.
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_uncertainty(double *standard, const cavum_survey *survey,
                                      const cavum_foot *places, const double *weights,
                                      int64_t num_places, cavum_error *error);

/** What another measurement of the same wall has more. */
typedef struct cavum_survey_noise {
  const double *points_m; /**< Of each point, shape [num_points]. */
  const double *bends_m;  /**< What smoothing hides, as cavum_smooth_add() has it; shape
                               [cavum_survey_num_bends()]; NULL: nothing. */
  double shift_m;         /**< Of all points alike, along the normals. */
} cavum_survey_noise;

/** How many numbers say how the splines of a survey bend. */
int64_t cavum_survey_num_bends(const cavum_survey *survey);

/**
 * The wall as the same points would have given it with more in their distances: the best fit
 * follows, which points are used and how much is smoothed stay.
 * @param[out] contour  Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  survey   Fitted.
 * @param[in]  noise    What is added.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  as cavum_survey_contour().
 * @retval CAVUM_ERR_LIBRARY   GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_draw(cavum_contour *contour, const cavum_survey *survey,
                               const cavum_survey_noise *noise, cavum_error *error);

#endif
