// SPDX-License-Identifier: GPL-3.0-or-later
// Division of the contour. Along each curve a density of segments, the larger of "turn over the
// allowed turn" and "length over the wanted size", is summed up; cutting at equal parts of the sum
// gives segments that obey both and change their length gradually.
#include "mesher_chain.h"

#include <string.h>

#include "base.h"

// A segment may be this much longer than the field says before one more is spent on the curve.
static const double size_slack = 1.15;
// Steps of the summation are halved until they are shorter than this part of the size there.
static const double step_fraction = 0.4;
enum { MOST_HALVINGS = 40 };

// Running sum of the density along one curve, as pairs (t, sum).
typedef struct density {
  int64_t count, capacity;
  struct density_point {
    double t, sum;
  } * points;
} density;

void cavum_chain_clear(cavum_chain *chain) {
  if (!chain) return;
  free(chain->segments);
  memset(chain, 0, sizeof *chain);
}

static cavum_status append_density(density *sum, double t, double part, cavum_error *error) {
  if (!cavum_grow((void **)&sum->points, &sum->capacity, sum->count + 1, sizeof *sum->points)) {
    return cavum_fail_memory(error);
  }
  double before = sum->count > 0 ? sum->points[sum->count - 1].sum : 0.0;
  sum->points[sum->count++] = (struct density_point){t, before + part};
  return CAVUM_OK;
}

// Adds the step between two stations in parts that are short against the size. `most` bounds the
// sum: past it the curve needs too many segments and the rest does not matter.
static cavum_status add_step(density *sum, const cavum_curve *curve, const cavum_size_field *field,
                             const cavum_station *a, const cavum_station *b, double most,
                             cavum_error *error) {
  double length = b->length_m - a->length_m;
  double turns = (b->turn_rad - a->turn_rad) / field->largest_turn_rad;
  double ends[MOST_HALVINGS + 1] = {1.0}, from = 0.0;
  int depth = 0;
  while (depth >= 0) {
    double width = ends[depth] - from, middle = from + 0.5 * width;
    cavum_point point = cavum_curve_point(curve, a->t + middle * (b->t - a->t));
    double size = cavum_size_field_at(field, point);
    if (width * length > step_fraction * size && depth < MOST_HALVINGS) {
      ends[depth + 1] = middle;
      depth++;
      continue;
    }
    double part = cavum_max(width * turns, width * length / (size_slack * size));
    cavum_status status = append_density(sum, a->t + ends[depth] * (b->t - a->t), part, error);
    if (status != CAVUM_OK) return status;
    if (sum->points[sum->count - 1].sum > most) return CAVUM_OK;
    from = ends[depth--];
  }
  return CAVUM_OK;
}

// Curve parameter where the sum reaches a value.
static double invert_density(const density *sum, double value) {
  int64_t low = 0, high = sum->count - 1;
  while (high - low > 1) {
    int64_t middle = (low + high) / 2;
    if (sum->points[middle].sum < value) {
      low = middle;
    } else {
      high = middle;
    }
  }
  const struct density_point *a = &sum->points[low], *b = &sum->points[high];
  double rise = b->sum - a->sum;
  return rise > 0.0 ? a->t + (value - a->sum) / rise * (b->t - a->t) : b->t;
}

static cavum_status divide_curve(cavum_chain *chain, cavum_index c, const density *sum,
                                 cavum_index most, cavum_error *error) {
  double total = sum->points[sum->count - 1].sum;
  if (chain->num_segments + total > most) {
    return cavum_fail(error, CAVUM_ERR_MESH,
                      "curve %d of the contour is too fine against the whole: more than %d "
                      "boundary segments would be needed",
                      (int)c + 1, (int)most);
  }
  cavum_index n = (cavum_index)ceil(total - 1e-6);
  if (n < 1) n = 1;
  if (!cavum_grow((void **)&chain->segments, &chain->capacity, (int64_t)chain->num_segments + n,
                  sizeof *chain->segments)) {
    return cavum_fail_memory(error);
  }
  for (cavum_index k = 0; k < n; k++) {
    cavum_segment *segment = &chain->segments[chain->num_segments++];
    segment->curve = c;
    for (int i = 0; i < 3; i++) {
      segment->t[i] = invert_density(sum, total * (2.0 * k + i) / (2.0 * n));
    }
    if (k == 0) segment->t[0] = 0.0;
    if (k == n - 1) segment->t[2] = 1.0;
  }
  return CAVUM_OK;
}

cavum_status cavum_chain_build(cavum_chain *chain, const cavum_contour *contour,
                               const cavum_size_field *field, cavum_index most,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  density sum = {0, 0, NULL};
  chain->num_segments = 0;
  for (cavum_index c = 0; c < contour->num_curves; c++) {
    sum.count = 0;
    CAVUM_TRY(append_density(&sum, 0.0, 0.0, error));
    for (cavum_index j = field->first_station[c]; j + 1 < field->first_station[c + 1]; j++) {
      CAVUM_TRY(add_step(&sum, &contour->curves[c], field, &field->stations[j],
                         &field->stations[j + 1], (double)most, error));
    }
    CAVUM_TRY(divide_curve(chain, c, &sum, most, error));
  }
done:
  free(sum.points);
  return status;
}
