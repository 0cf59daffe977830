// SPDX-License-Identifier: GPL-3.0-or-later
// A depth along the wall, and walls that are moved by it.
#include "contour/wall_depth.h"

#include <math.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/graded.h"
#include "contour/offset.h"
#include "contour/parallel.h"

static bool is_uniform(const cavum_depth_shape *along) {
  return along->num_places == 0 && along->iris_share == 1.0;
}

cavum_wall_depth cavum_wall_depth_make(const cavum_contour *contour, const cavum_depth_shape *along,
                                       double depth_m) {
  cavum_wall_depth d = {along, depth_m, INFINITY, 0.0};
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    d.least_r_m = cavum_min(d.least_r_m, cavum_min(curve->start.r_m, curve->end.r_m));
    d.largest_r_m = cavum_max(d.largest_r_m, cavum_max(curve->start.r_m, curve->end.r_m));
  }
  return d;
}

// Between two places a cubic without slope at either: it has no maxima of its own.
double cavum_depth_share_at(const cavum_depth_shape *along, double z_m) {
  int n = along->num_places, k = 0;
  if (z_m <= along->z_m[0]) return along->share[0];
  if (z_m >= along->z_m[n - 1]) return along->share[n - 1];
  while (z_m > along->z_m[k + 1]) k++;
  double t = (z_m - along->z_m[k]) / (along->z_m[k + 1] - along->z_m[k]);
  return along->share[k] + (along->share[k + 1] - along->share[k]) * t * t * (3.0 - 2.0 * t);
}

double cavum_wall_depth_of(cavum_point point, const cavum_wall_depth *d) {
  if (d->along->num_places > 0) return d->depth_m * cavum_depth_share_at(d->along, point.z_m);
  double span_m = d->largest_r_m - d->least_r_m;
  double inward = span_m > 0.0 ? (d->largest_r_m - point.r_m) / span_m : 0.0;
  return d->depth_m * (1.0 + (d->along->iris_share - 1.0) * inward);
}

static double depth_at(const cavum_curve *curve, double t, const void *data) {
  return cavum_wall_depth_of(cavum_curve_point(curve, t), data);
}

static cavum_status move_graded(cavum_contour *moved, const cavum_contour *contour, double depth_m,
                                const cavum_depth_shape *along, cavum_error *error) {
  const cavum_wall_depth d = cavum_wall_depth_make(contour, along, depth_m);
  const cavum_graded_depth depth = {depth_at, &d, CAVUM_GRADED_CLOSE_M};
  return cavum_contour_move_by_depth(moved, contour, &depth, error);
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

static cavum_status move_evenly(cavum_contour *moved, const cavum_contour *contour, double depth_m,
                                cavum_error *error) {
  cavum_index n = contour->num_curves;
  double *offsets_m = cavum_alloc(n, sizeof *offsets_m);
  if (!offsets_m) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < n; i++) {
    offsets_m[i] = contour->curves[i].boundary == CAVUM_BOUNDARY_METAL ? depth_m : 0.0;
  }
  cavum_status status = cavum_contour_move_along_normals(moved, contour, offsets_m, error);
  free(offsets_m);
  return status;
}

cavum_status cavum_contour_move_wall(cavum_contour *contour, double depth_m,
                                     const cavum_depth_shape *along, bool check,
                                     cavum_error *error) {
  cavum_contour moved = {0};
  // Splines through exactly moved points begin anew.
  cavum_status status = !is_uniform(along) || is_full(contour)
                            ? move_graded(&moved, contour, depth_m, along, error)
                            : move_evenly(&moved, contour, depth_m, error);
  if (status == CAVUM_OK && check) status = cavum_contour_check(&moved, NULL, NULL, error);
  if (status != CAVUM_OK) {
    cavum_contour_clear(&moved);
    return status;
  }
  cavum_contour_clear(contour);
  *contour = moved;
  return CAVUM_OK;
}
