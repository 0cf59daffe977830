// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes as paths: exact maps of their curves, checked like the path of a file.
#include "steps/shape.h"

#include <math.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/offset.h"

cavum_status cavum_shape_start(cavum_cell *shape, const cavum_cell *cell, cavum_error *error) {
  cavum_contour contour = {0};
  if (cell->kind == CAVUM_CONTOUR_MESH_FILE) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "a cell from a mesh file has no exact contour that a step could move");
  }
  cavum_status status = cavum_cell_make_contour(&contour, cell, CAVUM_PART_WHOLE, error);
  if (status != CAVUM_OK) return status;
  cavum_cell made;
  cavum_cell_set_defaults(&made);
  made.title = cavum_copy_text(cell->title);
  if (!made.title) {
    cavum_contour_clear(&contour);
    return cavum_fail_memory(error);
  }
  made.kind = CAVUM_CONTOUR_PATH;
  made.path = contour;
  made.beta = cell->beta;
  made.accelerating_length_m = cell->accelerating_length_m;
  if (made.accelerating_length_m <= 0.0 && cell->kind == CAVUM_CONTOUR_TWO_ELLIPSE) {
    made.accelerating_length_m = cell->left.half_length_m + cell->right.half_length_m;
  }
  made.num_modes = cell->num_modes;
  made.near_hz = cell->near_hz;
  made.accuracy_frequency = cell->accuracy_frequency;
  made.accuracy_other_figures = cell->accuracy_other_figures;
  made.wall = cell->wall;
  *shape = made;
  return CAVUM_OK;
}

cavum_status cavum_shape_move_wall(cavum_cell *shape, double depth_m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_contour moved = {0};
  cavum_index n = shape->path.num_curves;
  double *offsets_m = cavum_alloc(n, sizeof *offsets_m);
  if (!offsets_m) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < n; i++) {
    offsets_m[i] = shape->path.curves[i].boundary == CAVUM_BOUNDARY_METAL ? depth_m : 0.0;
  }
  CAVUM_TRY(cavum_contour_move_along_normals(&moved, &shape->path, offsets_m, error));
  CAVUM_TRY(cavum_contour_check(&moved, NULL, NULL, error));
  cavum_contour_clear(&shape->path);
  shape->path = moved;
  moved = (cavum_contour){0};
done:
  cavum_contour_clear(&moved);
  free(offsets_m);
  return status;
}

void cavum_shape_scale(cavum_cell *shape, double along_z, double along_r) {
  cavum_contour_scale(&shape->path, along_z, along_r);
  shape->accelerating_length_m *= along_z;
}

double cavum_shape_length_m(const cavum_cell *shape) {
  double low = INFINITY, high = -INFINITY;
  for (cavum_index i = 0; i < shape->path.num_curves; i++) {
    low = cavum_min(low, shape->path.curves[i].start.z_m);
    high = cavum_max(high, shape->path.curves[i].start.z_m);
  }
  return high - low;
}

double cavum_shape_slope_of_depth(const cavum_mode_result *mode) {
  const cavum_wall_density *d = &mode->wall_density;
  double sum = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) sum += d->frequency_hz_per_m3[i] * d->area_m2[i];
  return sum;
}

double cavum_shape_slope_of_stretch(const cavum_mode_result *mode, double frequency_hz) {
  const cavum_wall_density *d = &mode->wall_density;
  double across = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    across += d->frequency_hz_per_m3[i] * d->area_m2[i] * d->r_m[i] * d->normal_r[i];
  }
  return -frequency_hz - across;
}
