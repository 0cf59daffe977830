// SPDX-License-Identifier: GPL-3.0-or-later
// The known part of a density along the wall.
#include "picture/wall_values.h"

#include "base/base.h"

static const double CORNER_SHARE = 0.01;
// A value is known to so much of the largest on its edge, or of the scale.
static const double OF_EDGE = 0.1, OF_SCALE = 0.01;
// A place without a limit is felt on edges that are no farther from it than so many of their
// lengths: of equal edges, as at the axis, on the next two; those at a corner are graded.
static const double NEAR_AXIS = 3.0, NEAR_CORNER = 1.0;

const double *cavum_wall_values_of(const cavum_mode_result *mode, cavum_picture_along_wall what) {
  const cavum_wall_density *d = &mode->wall_density;
  switch (what) {
    case CAVUM_ALONG_WALL_FREQUENCY:
      return d->frequency_hz_per_m3;
    case CAVUM_ALONG_WALL_PRESSURE:
      return d->pressure_pa;
    case CAVUM_ALONG_WALL_GEOMETRY_FACTOR:
      return d->geometry_factor_ohm_per_m3;
    case CAVUM_ALONG_WALL_R_OVER_Q:
      return d->r_over_q_linac_ohm_per_m3;
    case CAVUM_ALONG_WALL_NOTHING:
      break;
  }
  return NULL;
}

static const double *uncertainty_of(const cavum_mode_result *mode, cavum_picture_along_wall what) {
  if (what == CAVUM_ALONG_WALL_R_OVER_Q) return mode->wall_r_over_q_uncertainty_ohm_per_m3;
  if (what != CAVUM_ALONG_WALL_GEOMETRY_FACTOR) return NULL;
  return mode->wall_geometry_factor_uncertainty_ohm_per_m3;
}

// A size and the part of the wall that it stands for.
typedef struct sized_part {
  double size, area_m2;
} sized_part;

static int by_falling_size(const void *a, const void *b) {
  double of_a = ((const sized_part *)a)->size, of_b = ((const sized_part *)b)->size;
  return of_a < of_b ? 1 : of_a > of_b ? -1 : 0;
}

// The largest known size of a sign. Near a sharp corner it grows without bound: what stands on the
// last hundredth of the wall is as dark as the rest then.
static cavum_status find_largest(double *most, const cavum_scene *scene, const cavum_wall_values *v,
                                 double sign, cavum_error *error) {
  const cavum_wall_density *d = &scene->mode->wall_density;
  sized_part *parts = cavum_alloc(d->num_points, sizeof *parts);
  double area = 0.0, skipped = 0.0;
  int count = 0, at = 0;
  if (!parts) return cavum_fail_memory(error);
  for (int i = 0; i < d->num_points; i++) {
    double size = sign * v->values[i];
    area += d->area_m2[i];
    if (v->known[i] && size > 0.0) parts[count++] = (sized_part){size, d->area_m2[i]};
  }
  qsort(parts, (size_t)count, sizeof *parts, by_falling_size);
  bool goes_on = cavum_scene_e_goes_on_at_wall(scene);
  while (goes_on && at + 1 < count && skipped < CORNER_SHARE * area) {
    skipped += parts[at++].area_m2;
  }
  *most = count > 0 ? parts[at].size : 0.0;
  free(parts);
  return CAVUM_OK;
}

static cavum_status find_scale(cavum_wall_values *v, const cavum_scene *scene, cavum_error *error) {
  for (int k = 0; k < 2; k++) {
    cavum_status status = find_largest(&v->largest[k], scene, v, k == 0 ? 1.0 : -1.0, error);
    if (status != CAVUM_OK) return status;
  }
  v->scale = cavum_max(v->largest[0], v->largest[1]);
  return CAVUM_OK;
}

// How far the nearest of points first to end - 1 is from a place; NULL: from the axis.
static double find_distance(const cavum_wall_density *d, const cavum_point *place, int first,
                            int end) {
  double least = HUGE_VAL;
  for (int i = first; i < end; i++) {
    double away = place ? hypot(d->z_m[i] - place->z_m, d->r_m[i] - place->r_m) : d->r_m[i];
    least = cavum_min(least, away);
  }
  return least;
}

// Points first to end - 1, of one edge, and why they are not known. An edge with an infinite
// uncertainty touches the axis.
static void add_reason(cavum_wall_gaps *gaps, const cavum_scene *scene, const double *uncertainty,
                       int first, int end, bool touches_axis) {
  const cavum_wall_density *d = &scene->mode->wall_density;
  double length = d->arc_length_m[end - 1] - d->arc_length_m[first];
  bool at_corner = false;
  for (int c = 0; c < scene->num_corners; c++) {
    at_corner =
        at_corner || find_distance(d, &scene->corners[c], first, end) <= NEAR_CORNER * length;
  }
  if (isinf(uncertainty[first]) ||
      (touches_axis && find_distance(d, NULL, first, end) <= NEAR_AXIS * length)) {
    gaps->at_axis = true;
  } else if (at_corner) {
    gaps->at_corner = true;
  } else {
    gaps->of_mesh = true;
  }
}

static int count_infinite(const double *uncertainty, int count) {
  int infinite = 0;
  for (int i = 0; i < count; i++) infinite += isinf(uncertainty[i]) ? 1 : 0;
  return infinite;
}

// Points of an edge stand together and have one uncertainty.
static void find_known(cavum_wall_values *v, const cavum_scene *scene, const double *uncertainty) {
  int count = scene->mode->wall_density.num_points;
  int infinite = count_infinite(uncertainty, count);
  v->has_gaps = false;
  v->gaps = (cavum_wall_gaps){0};
  for (int first = 0, end; first < count; first = end) {
    double most = 0.0;
    for (end = first; end < count && uncertainty[end] == uncertainty[first]; end++) {
      most = cavum_max(most, fabs(v->values[end]));
    }
    bool known = uncertainty[first] <= cavum_max(OF_EDGE * most, OF_SCALE * v->scale);
    for (int i = first; i < end; i++) v->known[i] = known;
    if (!known) add_reason(&v->gaps, scene, uncertainty, first, end, infinite > 0);
    v->has_gaps = v->has_gaps || !known;
  }
  if (infinite == count) {
    v->gaps = (cavum_wall_gaps){.one_degree = true};
  }
}

cavum_status cavum_wall_values_take(cavum_wall_values *values, const cavum_scene *scene,
                                    cavum_picture_along_wall what, cavum_error *error) {
  const double *uncertainty = uncertainty_of(scene->mode, what);
  int count = scene->mode->wall_density.num_points;
  *values = (cavum_wall_values){.values = cavum_wall_values_of(scene->mode, what)};
  if (!values->values) return CAVUM_OK;
  values->known = cavum_alloc(count, sizeof *values->known);
  if (!values->known) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) values->known[i] = true;
  // Once without a scale, and once more with that of what is known.
  for (int pass = 0; uncertainty && pass < 2; pass++) {
    find_known(values, scene, uncertainty);
    cavum_status status = find_scale(values, scene, error);
    if (status != CAVUM_OK) return status;
  }
  return find_scale(values, scene, error);
}

void cavum_wall_values_clear(cavum_wall_values *values) {
  free(values->known);
  values->known = NULL;
}
