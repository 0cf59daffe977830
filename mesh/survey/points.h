// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file survey/points.h
 * Points of a coordinate-measuring machine, from a table.
 */
#ifndef CAVUM_SURVEY_POINTS_H
#define CAVUM_SURVEY_POINTS_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

/** Most points of a survey. */
enum { CAVUM_SURVEY_POINTS_MOST = 200000 };

/** Points as they were measured. */
typedef struct cavum_survey_points {
  int64_t num_points;
  int64_t num_repeated; /**< More that were left out, as they repeat others exactly. */
  bool in_space;        /**< x, y and z; else z and r, as x and no y. */
  double *x_m;          /**< Owned, shape [3, num_points]: x, then y, then z. */
  double *y_m, *z_m;
} cavum_survey_points;

/** Frees points and empties them. */
void cavum_survey_points_clear(cavum_survey_points *points);

/**
 * Reads a table of points: columns z and r, or x, y and z, each with its unit at the end of the
 * name (`z_mm`); columns point, section and note are not read. The order is of no account.
 *
 * Points that were exported twice count once: in space each that coincides exactly with another; in
 * the plane, where points of several sections may do so by rounding, only if all points do, equally
 * often.
 * @param[out] points  Untouched unless CAVUM_OK.
 * @param[in]  path    File name.
 * @param[out] error   `file:line: column N (header): what is wrong`.
 * @retval CAVUM_ERR_FILE   a file that cannot be read.
 * @retval CAVUM_ERR_INPUT  a row that is no row of numbers, columns that do not go together, too
 *                          few or too many points, a negative r.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_survey_points_read(cavum_survey_points *points, const char *path,
                                      cavum_error *error);

#endif
