// SPDX-License-Identifier: GPL-3.0-or-later
// How far the place of a peak may be off.
#include "base/base.h"
#include "figures/surface.h"

// On an edge from -1 to 1: what counts as near a place, and the farthest that a place may be off.
static const double NEAR = 0.2, FARTHEST = 0.1;
// Of the difference of two slopes, or of a slope at an end. Of 130 peaks of H of random cells whose
// derivatives were most in error the places were off by 0.6 times what follows in the median, nine
// of ten by less than 1.1 times; uncertainties are twice a change at least, and of peaks of E twice
// that.
static const double PART_OF_H = 0.7, PART_OF_E = 0.5;
// A place is at an end from here on.
static const double AT_END = 1.0 - 1e-5;

static const double *field_of(const cavum_wall_samples *samples, bool electric) {
  return electric ? samples->e : samples->h;
}

// The largest difference of the slopes of two fields near a place.
static double slopes_apart(const double *a, const double *b, const double *sample, double s) {
  double largest = 0.0;
  for (int k = 0; k + 1 < CAVUM_WALL_SAMPLES; k++) {
    if (fabs(0.5 * (sample[k] + sample[k + 1]) - s) > NEAR) continue;
    double rise = fabs(a[k + 1]) - fabs(a[k]), other = fabs(b[k + 1]) - fabs(b[k]);
    largest = cavum_max(largest, fabs(rise - other) / (sample[k + 1] - sample[k]));
  }
  return largest;
}

// The slope of a field at an end of the edge, where a maximum may be a bend of the approximation; 0
// elsewhere.
static double slope_at_end(const double *at, const double *sample, double s) {
  int low = s > 0.0 ? CAVUM_WALL_SAMPLES - 2 : 0;
  if (fabs(s) < AT_END) return 0.0;
  return fabs(fabs(at[low + 1]) - fabs(at[low])) / (sample[low + 1] - sample[low]);
}

// Of a parabola through three samples about a place; at an end of the edge they are inside.
static double curvature_at(const double *at, const double *sample, double s) {
  int low = 0, high = CAVUM_WALL_SAMPLES - 1;
  while (low + 3 < CAVUM_WALL_SAMPLES && sample[low + 1] <= s - NEAR) low++;
  while (high > low + 2 && sample[high - 1] >= s + NEAR) high--;
  int middle = low + 1;
  while (middle + 2 < high && sample[middle] < 0.5 * (sample[low] + sample[high])) middle++;
  double left = (fabs(at[middle]) - fabs(at[low])) / (sample[middle] - sample[low]);
  double right = (fabs(at[high]) - fabs(at[middle])) / (sample[high] - sample[middle]);
  return 2.0 * (right - left) / (sample[high] - sample[low]);
}

bool cavum_surface_is_at_end(const cavum_peak_place *place) { return fabs(place->s) >= AT_END; }

cavum_peak_place cavum_surface_hold_apart(const cavum_peak_place *lower,
                                          const cavum_peak_place *upper,
                                          const cavum_wall_samples *of_lower,
                                          const cavum_wall_samples *of_upper,
                                          const cavum_mesh_boundary *boundary, bool electric) {
  const double *a = field_of(&of_lower[upper->edge], electric),
               *b = field_of(&of_upper[upper->edge], electric);
  double curvature = curvature_at(b, boundary->sample, upper->s);
  double slope = cavum_max(slopes_apart(a, b, boundary->sample, upper->s),
                           slope_at_end(b, boundary->sample, upper->s));
  double apart = (electric ? PART_OF_E : PART_OF_H) * slope, step = FARTHEST;
  if (apart < -curvature * FARTHEST) step = apart / -curvature;
  cavum_peak_place place = *lower;
  if (lower->edge == upper->edge && fabs(lower->s - upper->s) >= step) return place;
  double side = lower->edge == upper->edge && lower->s < upper->s ? -1.0 : 1.0;
  if (side * upper->s + step > 1.0) side = -side;
  place.edge = upper->edge;
  place.s = upper->s + side * step;
  return place;
}
