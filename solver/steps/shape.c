// SPDX-License-Identifier: GPL-3.0-or-later
// Shapes as paths: exact maps of their curves, checked like the path of a file.
#include "steps/shape.h"

#include <math.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/graded.h"
#include "contour/offset.h"
#include "contour/parallel.h"

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

/** A depth along the wall. */
typedef struct depths {
  const cavum_depth_shape *along;
  double depth_m, least_r_m, largest_r_m;
} depths;

static bool is_uniform(const cavum_depth_shape *along) {
  return along->num_places == 0 && along->iris_share == 1.0;
}

static depths measure_depths(const cavum_contour *contour, const cavum_depth_shape *along,
                             double depth_m) {
  depths d = {along, depth_m, INFINITY, 0.0};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    d.least_r_m = cavum_min(d.least_r_m, cavum_min(curve->start.r_m, curve->end.r_m));
    d.largest_r_m = cavum_max(d.largest_r_m, cavum_max(curve->start.r_m, curve->end.r_m));
  }
  return d;
}

// Between two places a cubic without slope at either: it has no maxima of its own.
static double share_at(const cavum_depth_shape *along, double z_m) {
  int n = along->num_places, k = 0;
  if (z_m <= along->z_m[0]) return along->share[0];
  if (z_m >= along->z_m[n - 1]) return along->share[n - 1];
  while (z_m > along->z_m[k + 1]) k++;
  double t = (z_m - along->z_m[k]) / (along->z_m[k + 1] - along->z_m[k]);
  return along->share[k] + (along->share[k + 1] - along->share[k]) * t * t * (3.0 - 2.0 * t);
}

static double depth_of(cavum_point point, const depths *d) {
  if (d->along->num_places > 0) return d->depth_m * share_at(d->along, point.z_m);
  double span_m = d->largest_r_m - d->least_r_m;
  double inward = span_m > 0.0 ? (d->largest_r_m - point.r_m) / span_m : 0.0;
  return d->depth_m * (1.0 + (d->along->iris_share - 1.0) * inward);
}

static double depth_at(const cavum_curve *curve, double t, const void *data) {
  return depth_of(cavum_curve_point(curve, t), data);
}

static cavum_status move_graded(cavum_cell *shape, double depth_m, const cavum_depth_shape *along,
                                cavum_error *error) {
  cavum_contour moved = {0};
  const depths d = measure_depths(&shape->path, along, depth_m);
  const cavum_graded_depth depth = {depth_at, &d, CAVUM_GRADED_CLOSE_M};
  cavum_status status = cavum_contour_move_by_depth(&moved, &shape->path, &depth, error);
  if (status == CAVUM_OK) status = cavum_contour_check(&moved, NULL, NULL, error);
  if (status == CAVUM_OK) {
    cavum_contour_clear(&shape->path);
    shape->path = moved;
    return CAVUM_OK;
  }
  cavum_contour_clear(&moved);
  return status;
}

// Some piece was moved and stretched in turn as often as its form has room for.
static bool is_full(const cavum_contour *contour) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
    if (curve->boundary != CAVUM_BOUNDARY_METAL || !cavum_curve_is_parallel(curve)) continue;
    int count = cavum_parallel_get(layers, curve);
    if (layers[count - 1].lengthening != 0.0) return true;
  }
  return false;
}

cavum_status cavum_shape_move_wall(cavum_cell *shape, double depth_m,
                                   const cavum_depth_shape *along, cavum_error *error) {
  // Splines through exactly moved points begin anew.
  if (!is_uniform(along) || is_full(&shape->path)) return move_graded(shape, depth_m, along, error);
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

double cavum_shape_slope_of_depth(const cavum_mode_result *mode, const cavum_cell *shape,
                                  const cavum_depth_shape *along) {
  const cavum_wall_density *d = &mode->wall_density;
  const depths of_one = measure_depths(&shape->path, along, 1.0);
  double sum = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double share = depth_of((cavum_point){d->z_m[i], d->r_m[i]}, &of_one);
    sum += share * d->frequency_hz_per_m3[i] * d->area_m2[i];
  }
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

double cavum_shape_radiation_change_hz(const cavum_mode_result *mode, double frequency_hz,
                                       const cavum_cell *shape, double equator_m,
                                       const cavum_chain_step *step) {
  const cavum_wall_density *d = &mode->wall_density;
  double by_table = 0.0, force_n = 0.0, change_hz = 0.0;
  for (cavum_index i = 0; i < d->num_points; i++) {
    double outwards_n = d->pressure_pa[i] * d->area_m2[i];
    if (step->compliance_m_per_pa > 0.0) {
      by_table += share_at(&step->depth, d->z_m[i]) * outwards_n * d->frequency_hz_per_m3[i];
    }
    force_n += (d->z_m[i] > equator_m ? 0.5 : -0.5) * outwards_n * d->normal_z[i];
  }
  change_hz = step->compliance_m_per_pa * by_table;
  if (step->stiffness_n_per_m.value > 0.0) {
    change_hz += cavum_shape_slope_of_stretch(mode, frequency_hz) / cavum_shape_length_m(shape) *
                 force_n / step->stiffness_n_per_m.value;
  }
  return change_hz;
}
