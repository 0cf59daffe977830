// SPDX-License-Identifier: GPL-3.0-or-later
// The density of segments along each curve, the larger of "turn over the allowed turn" and "length
// over the wanted size", summed up from the start of the curve.
#include "mesher/density.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"

// A segment may be this much longer than the field says before one more is spent on the curve.
static const double SIZE_EXCESS = 1.15;
// Steps of the summation are halved until they are shorter than this part of the size there.
static const double STEP_FRACTION = 0.4;
enum { MOST_HALVINGS = 40 };
// Points of the sums for each segment that is allowed: steps are some 0.3 of a segment, samples of
// straight pieces add a few.
enum { MOST_POINTS_EACH = 64 };

void cavum_density_clear(cavum_density *density) {
  if (!density) return;
  free(density->first);
  free(density->points);
  memset(density, 0, sizeof *density);
}

// Appends a point to the last curve begun; first[c + 1] counts its points.
static cavum_status append_point(cavum_density *density, cavum_index c, double t, double sum,
                                 cavum_error *error) {
  if (!cavum_grow((void **)&density->points, &density->capacity, (int64_t)density->first[c + 1] + 1,
                  sizeof *density->points)) {
    return cavum_fail_memory(error);
  }
  density->points[density->first[c + 1]++] = (cavum_density_point){t, sum};
  return CAVUM_OK;
}

// Written so that a sum that is no number, such as no length over no size, is too much as well.
static bool is_too_much(const cavum_density *density, cavum_index c, double most) {
  double sum = density->points[density->first[c + 1] - 1].sum;
  return !(sum <= most) || density->first[c + 1] > MOST_POINTS_EACH * most;
}

static cavum_status refuse(double most, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_MESH, "more than %d segments would be needed", (int)most);
}

// Adds the step between two samples in parts that are short against the size.
static cavum_status add_step(cavum_density *density, const cavum_contour *contour, cavum_index c,
                             const cavum_size_field *field, const cavum_size_sample *a, double most,
                             cavum_error *error) {
  const cavum_size_sample *b = a + 1;
  double length = b->length_m - a->length_m;
  double turns = (b->turn_rad - a->turn_rad) / field->largest_turn_rad;
  double ends[MOST_HALVINGS + 1] = {1.0}, from = 0.0;
  int depth = 0;
  while (depth >= 0) {
    double width = ends[depth] - from, middle = from + 0.5 * width;
    cavum_point point = cavum_curve_point(&contour->curves[c], a->t + middle * (b->t - a->t));
    double size = cavum_size_field_at(field, point);
    if (width * length > STEP_FRACTION * size && depth < MOST_HALVINGS) {
      ends[depth + 1] = middle;
      depth++;
      continue;
    }
    if (cavum_stop_asked_at(density->first[c + 1])) return cavum_stop_check(error);
    double sum = density->points[density->first[c + 1] - 1].sum;
    sum += cavum_max(width * turns, width * length / (SIZE_EXCESS * size));
    double t = ends[depth] == 1.0 ? b->t : a->t + ends[depth] * (b->t - a->t);
    cavum_status status = append_point(density, c, t, sum, error);
    if (status != CAVUM_OK) return status;
    if (is_too_much(density, c, most)) return refuse(most, error);
    from = ends[depth--];
  }
  return CAVUM_OK;
}

cavum_status cavum_density_build(cavum_density *density, const cavum_contour *contour,
                                 const cavum_size_field *field, cavum_index most,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double total = 0.0;
  cavum_density_clear(density);
  density->num_curves = contour->num_curves;
  density->first = cavum_alloc((int64_t)contour->num_curves + 1, sizeof *density->first);
  if (!density->first) return cavum_fail_memory(error);
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    density->first[c + 1] = density->first[c];
    status = append_point(density, c, 0.0, 0.0, error);
    if (status != CAVUM_OK) return status;
    for (cavum_index j = field->first_sample[c]; j + 1 < field->first_sample[c + 1]; j++) {
      status = add_step(density, contour, c, field, &field->samples[j], (double)most, error);
      if (status != CAVUM_OK) return status;
    }
    total += cavum_max(1.0, cavum_density_total(density, c));
    if (!(total <= most)) return refuse((double)most, error);
  }
  return status;
}

double cavum_density_total(const cavum_density *density, cavum_index curve) {
  return density->points[density->first[curve + 1] - 1].sum;
}

double cavum_density_sum(const cavum_density *density, cavum_index curve, double t) {
  cavum_index low = density->first[curve], high = density->first[curve + 1] - 1;
  while (high - low > 1) {
    cavum_index middle = low + (high - low) / 2;
    if (density->points[middle].t < t) {
      low = middle;
    } else {
      high = middle;
    }
  }
  const cavum_density_point *a = &density->points[low], *b = &density->points[high];
  return a->sum + (t - a->t) / (b->t - a->t) * (b->sum - a->sum);
}

double cavum_density_parameter(const cavum_density *density, cavum_index curve, double sum) {
  cavum_index low = density->first[curve], high = density->first[curve + 1] - 1;
  while (high - low > 1) {
    cavum_index middle = low + (high - low) / 2;
    if (density->points[middle].sum < sum) {
      low = middle;
    } else {
      high = middle;
    }
  }
  const cavum_density_point *a = &density->points[low], *b = &density->points[high];
  double rise = b->sum - a->sum;
  return rise > 0.0 ? a->t + (sum - a->sum) / rise * (b->t - a->t) : b->t;
}
