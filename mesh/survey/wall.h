// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/wall.h
 * The metal of a drawing as runs: smooth from corner to corner, with a length along them.
 */
#ifndef CAVUM_SURVEY_WALL_H
#define CAVUM_SURVEY_WALL_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/contour.h"

/** Panels of a curve for its lengths. */
enum { CAVUM_WALL_PANELS = 64 };

/** A curve of the metal. */
typedef struct cavum_wall_curve {
  cavum_index curve; /**< Of the drawing. */
  int run;
  double start_m;                         /**< Along its run. */
  double length_m[CAVUM_WALL_PANELS + 1]; /**< From its start to the ends of its panels. */
  double turned[CAVUM_WALL_PANELS + 1];   /**< Angle turned through since the start of the run,
                                               whichever way. */
  cavum_point sample[CAVUM_WALL_PANELS + 1];
} cavum_wall_curve;

/** How a run ends: level where it meets a plane or the axis at a right angle, which mirror it. */
typedef struct cavum_wall_ends {
  bool level_start, level_end;
} cavum_wall_ends;

/** The metal of a drawing, in its order. */
typedef struct cavum_survey_wall {
  cavum_contour drawing; /**< Its curves are borrowed. */
  int num_curves, num_runs;
  cavum_wall_curve *curves; /**< Owned, shape [num_curves]. */
  double *run_length_m;     /**< Owned, shape [num_curves]: the first num_runs count. */
  double *run_start_m;      /**< Owned, the same: all runs before, end to end. */
  cavum_wall_ends *ends;    /**< Owned, the same. */
} cavum_survey_wall;

/** Where a point is, seen from the wall. */
typedef struct cavum_foot {
  int curve; /**< Of cavum_survey_wall. */
  int run;
  double t;          /**< Of the curve. */
  double along_m;    /**< Along the run. */
  double distance_m; /**< Of the point, out of the cell, along the normal. */
  double normal_z, normal_r;
  bool beyond; /**< The point lies beyond an end of the run: its foot is no foot. */
} cavum_foot;

/** Frees a wall and empties it. */
void cavum_survey_wall_clear(cavum_survey_wall *wall);

/**
 * The metal of a contour.
 * @param[out] wall     Untouched unless CAVUM_OK.
 * @param[in]  drawing  Its curves live as long as the wall.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  no metal.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_wall_make(cavum_survey_wall *wall, const cavum_contour *drawing,
                                    cavum_error *error);

/** The place of the wall that is nearest to a point. */
cavum_foot cavum_survey_wall_foot(const cavum_survey_wall *wall, double z_m, double r_m);

/** Length along the run of a place of a curve. */
double cavum_survey_wall_along(const cavum_survey_wall *wall, int curve, double t);

/** Place of a run, and the angle turned through up to it. */
cavum_point cavum_survey_wall_place(double *turned, const cavum_survey_wall *wall, int run,
                                    double along_m);

#endif
