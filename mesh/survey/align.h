// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/align.h
 * Best fit of measured points to a drawing: how the machine's axes lie in those of the drawing.
 */
#ifndef CAVUM_SURVEY_ALIGN_H
#define CAVUM_SURVEY_ALIGN_H

#include "survey/points.h"
#include "survey/wall.h"

/** What is fitted. */
typedef enum cavum_survey_motion {
  CAVUM_MOTION_SHIFT_AND_TILT = 0, /**< Of points in a plane: a shift along the axis. */
  CAVUM_MOTION_SHIFT = 1,
  CAVUM_MOTION_NONE = 2
} cavum_survey_motion;

/** Most numbers of a motion: shifts along x, y and z, tilts about x and y. */
enum { CAVUM_MOTION_MOST = 5 };

/** Points in the axes of the drawing, seen from its wall. */
typedef struct cavum_survey_view {
  int64_t num_points;
  int num_columns;                  /**< Of the motion that is fitted. */
  int kinds[CAVUM_MOTION_MOST];     /**< Which of the motion a column is. */
  double motion[CAVUM_MOTION_MOST]; /**< m and rad: added to what was measured. */
  double shift_uncertainty_m; /**< Standard, of the shift along the axis; 0: none is fitted. */
  double middle_m;            /**< Tilts turn about this place of the axis. */
  cavum_foot *feet;           /**< Owned, shape [num_points]. */
  double *columns; /**< Owned: change of the distances with the motion, shape [num_points,
                        num_columns]. */
} cavum_survey_view;

/** Frees a view and empties it. */
void cavum_survey_view_clear(cavum_survey_view *view);

/**
 * Fits the motion by least squares of the distances together with one distance of the whole wall,
 * those far off left out of account by Tukey's weights [Huber2009], and looks at the points from
 * the wall. The deviations of neighbouring points are alike: how far they pull the shift along the
 * axis is told by a jackknife over twentieths of the wall [Efron1982].
 * @param[out] view    Untouched unless CAVUM_OK.
 * @param[in]  points  As measured.
 * @param[in]  wall    Of the drawing.
 * @param[in]  motion  What may move.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_LIBRARY  GSL refused.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_view_fit(cavum_survey_view *view, const cavum_survey_points *points,
                                   const cavum_survey_wall *wall, cavum_survey_motion motion,
                                   cavum_error *error);

/**
 * Fits what moves points of a turned wall apart, all but the shift along the axis, to what is left
 * of the distances when the wall's own deviation is taken off: with few sections or few points the
 * one looks like the other. Looks at the points again.
 * @param[in,out] view        Of cavum_survey_view_fit().
 * @param[in]     points      As measured.
 * @param[in]     wall        Of the drawing.
 * @param[in]     used        Shape [num_points].
 * @param[in]     residual_m  Shape [num_points].
 * @param[out]    moved_m     How far points were moved at most, about.
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_view_refit(double *moved_m, cavum_survey_view *view,
                                     const cavum_survey_points *points,
                                     const cavum_survey_wall *wall, const unsigned char *used,
                                     const double *residual_m, cavum_error *error);

/**
 * Makes of rows, one number a point, by which values of the moved points count, those by which
 * values of the points as measured count: the motion that is fitted follows the values.
 * @param[in,out] rows  Shape [num_points]; 0 for points that are not used.
 * @param[in]     used  Shape [num_points].
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_view_project(double *rows, const cavum_survey_view *view,
                                       const unsigned char *used, cavum_error *error);

/**
 * Takes off values what the motion that is fitted follows of them: how distances change when values
 * are added to what was measured.
 * @param[in,out] values  Shape [num_points].
 * @param[in]     used    Shape [num_points].
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_view_settle(double *values, const cavum_survey_view *view,
                                      const unsigned char *used, cavum_error *error);

#endif
