// SPDX-License-Identifier: GPL-3.0-or-later
// Paths grow step by step.
#include "canvas/path.h"

#include <string.h>

#include "base/base.h"

int cavum_dash_lengths(double lengths[4], cavum_dash dash) {
  static const double table[][4] = {{0}, {6.0, 3.0}, {1.5, 2.5}, {9.0, 2.5, 1.5, 2.5}};
  static const int counts[] = {0, 2, 2, 4};
  memcpy(lengths, table[dash], sizeof table[dash]);
  return counts[dash];
}

bool cavum_path_add(cavum_path *path, cavum_path_step step, double x, double y) {
  void *steps = path->steps, *points = path->points;
  int64_t wanted = path->num_steps + 1;
  bool grown = cavum_grow(&steps, &path->capacity_steps, wanted, sizeof *path->steps);
  path->steps = steps;
  grown = grown && cavum_grow(&points, &path->capacity_points, wanted, 2 * sizeof *path->points);
  path->points = points;
  if (!grown) return false;
  path->steps[path->num_steps] = (unsigned char)step;
  path->points[2 * path->num_steps] = x;
  path->points[2 * path->num_steps + 1] = y;
  path->num_steps++;
  return true;
}

void cavum_path_clear(cavum_path *path) {
  free(path->steps);
  free(path->points);
  memset(path, 0, sizeof *path);
}
