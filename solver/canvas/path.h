// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file canvas/path.h
 * A path: the line that a page strokes, fills or clips to.
 */
#ifndef CAVUM_CANVAS_PATH_H
#define CAVUM_CANVAS_PATH_H

#include <stdbool.h>
#include <stdint.h>

/** Dashes of a line. */
typedef enum cavum_dash {
  CAVUM_DASH_NONE,
  CAVUM_DASH_LONG,
  CAVUM_DASH_DOT,
  CAVUM_DASH_AXIS
} cavum_dash;

/** Lengths of dashes and gaps, in points; shape [4]; returns how many, 0 for an unbroken line. */
int cavum_dash_lengths(double lengths[4], cavum_dash dash);

/** One step of a path. */
typedef enum cavum_path_step { CAVUM_STEP_MOVE, CAVUM_STEP_LINE, CAVUM_STEP_CLOSE } cavum_path_step;

/** A path. Zero-initialise. */
typedef struct cavum_path {
  int64_t num_steps, capacity_steps, capacity_points;
  unsigned char *steps; /**< Owned, shape [num_steps]. */
  double *points;       /**< Owned: x, y of each step, shape [num_steps, 2]. */
} cavum_path;

/** Adds a step to (x, y); false, and the path as it was, when there is no memory. */
bool cavum_path_add(cavum_path *path, cavum_path_step step, double x, double y);

/** Frees what it owns. */
void cavum_path_clear(cavum_path *path);

#endif
