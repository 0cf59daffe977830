// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built/built_points.h
 * Densities along a solved wall, seen from the wall of the drawing.
 */
#ifndef CAVUM_AS_BUILT_BUILT_POINTS_H
#define CAVUM_AS_BUILT_BUILT_POINTS_H

#include "cavum/solve.h"
#include "survey/survey.h"

/** Figures with a density along the wall. */
typedef enum cavum_built_figure {
  CAVUM_BUILT_FIGURE_F,
  CAVUM_BUILT_FIGURE_G,
  CAVUM_BUILT_FIGURE_R_OVER_Q,
  CAVUM_NUM_BUILT_FIGURES
} cavum_built_figure;

/** A point of the rule of integration along a wall. */
typedef struct cavum_built_point {
  cavum_foot foot;     /**< On the drawing. */
  double deviation_m;  /**< Of the measured wall there, outwards. */
  double from_m, to_m; /**< Part of the run that the point stands for. */
  /** Change of each figure by metre that this part is moved outwards; 0 where there is none. */
  double change[CAVUM_NUM_BUILT_FIGURES];
} cavum_built_point;

/** All points of a wall, by run and place. Zero-initialise. */
typedef struct cavum_built_points {
  cavum_index num_points;
  cavum_built_point *points;               /**< Owned. */
  bool exists[CAVUM_NUM_BUILT_FIGURES];    /**< There is such a density. */
  double figures[CAVUM_NUM_BUILT_FIGURES]; /**< Of the mode. */
} cavum_built_points;

/** Frees points and empties them. */
void cavum_built_points_clear(cavum_built_points *points);

/**
 * The points of a mode.
 * @param[out] points  Untouched unless CAVUM_OK.
 * @param[in]  mode    With its densities along the wall.
 * @param[in]  survey  Whose drawing they are seen from.
 * @retval CAVUM_ERR_INPUT  a mode without densities.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_points_make(cavum_built_points *points, const cavum_mode_result *mode,
                                     const cavum_survey *survey, cavum_error *error);

/** Change of the frequency by metre of wall and metre moved outwards, at a place of a run; linear
 * between the points. */
double cavum_built_points_slope_hz_per_m2(const cavum_built_points *points, int run,
                                          double along_m);

#endif
