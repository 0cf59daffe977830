// SPDX-License-Identifier: GPL-3.0-or-later
// Where the equator and the irises of a contour are, and lengths that are lost or allowed for
// there.
#include "contour/axial_length.h"

#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/band.h"
#include "contour/check.h"
#include "contour/mirror.h"

// The widest place of a wall is looked for at so many points of a piece, then between them.
enum { SAMPLES = 64, THIRDS = 60 };
// Radii this near to each other are the same.
static const double SAME_M = 1e-12;

static double r_at(const cavum_curve *curve, double t) { return cavum_curve_point(curve, t).r_m; }

static double find_widest(const cavum_curve *curve) {
  int best = 0;
  for (int i = 0; i <= SAMPLES; i++) {
    if (r_at(curve, (double)i / SAMPLES) > r_at(curve, (double)best / SAMPLES)) best = i;
  }
  double low = cavum_max(0.0, (best - 1.0) / SAMPLES);
  double high = cavum_min(1.0, (best + 1.0) / SAMPLES);
  for (int i = 0; i < THIRDS; i++) {
    double a = low + (high - low) / 3.0, b = high - (high - low) / 3.0;
    if (r_at(curve, a) < r_at(curve, b)) {
      low = a;
    } else {
      high = b;
    }
  }
  double ends = r_at(curve, 0.0) >= r_at(curve, 1.0) ? 0.0 : 1.0, t = 0.5 * (low + high);
  return r_at(curve, t) > r_at(curve, ends) + SAME_M ? t : ends;
}

static bool is_level(const cavum_curve *curve) {
  return curve->kind == CAVUM_CURVE_LINE && curve->start.r_m == curve->end.r_m;
}

// The middle of the straight piece about a place, which cuts and welds may have left in parts.
static double middle_of_level(const cavum_contour *contour, cavum_point place) {
  double low_m = place.z_m, high_m = place.z_m;
  bool grows = true;
  while (grows) {
    grows = false;
    for (cavum_index i = 0; i < contour->num_curves; i++) {
      const cavum_curve *c = &contour->curves[i];
      bool here = c->boundary == CAVUM_BOUNDARY_METAL && is_level(c) &&
                  fabs(c->start.r_m - place.r_m) <= SAME_M;
      double from_m = cavum_min(c->start.z_m, c->end.z_m);
      double to_m = cavum_max(c->start.z_m, c->end.z_m);
      if (!here || from_m > high_m + SAME_M || to_m < low_m - SAME_M) continue;
      grows = grows || from_m < low_m - SAME_M || to_m > high_m + SAME_M;
      low_m = cavum_min(low_m, from_m);
      high_m = cavum_max(high_m, to_m);
    }
  }
  return 0.5 * (low_m + high_m);
}

double cavum_contour_equator_m(const cavum_contour *contour) {
  cavum_contour_mirror mirror;
  if (cavum_contour_find_mirror(&mirror, contour)) return mirror.plane_m;
  cavum_point widest = {0.0, -1.0};
  bool of_level = false;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    if (curve->boundary != CAVUM_BOUNDARY_METAL) continue;
    bool level = is_level(curve);
    cavum_point at = cavum_curve_point(curve, level ? 0.5 : find_widest(curve));
    if (!(at.r_m > widest.r_m + (level ? -SAME_M : SAME_M))) continue;
    widest = at;
    of_level = level;
  }
  return of_level ? middle_of_level(contour, widest) : widest.z_m;
}

void cavum_contour_find_ends(double *left_m, double *right_m, const cavum_contour *contour) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (contour->curves[i].boundary != CAVUM_BOUNDARY_AXIS) continue;
    *left_m = contour->curves[i].start.z_m;
    *right_m = contour->curves[i].end.z_m;
  }
}

double cavum_contour_length_m(const cavum_contour *contour) {
  double low_m, high_m;
  cavum_contour_find_extent(&low_m, &high_m, contour);
  return high_m - low_m;
}

// Puts a new contour in place of another, once it is found to be one.
static cavum_status put(cavum_contour *contour, double *factor, cavum_contour *made,
                        cavum_error *error) {
  cavum_status status = cavum_contour_check(made, NULL, NULL, error);
  if (status != CAVUM_OK) {
    cavum_contour_clear(made);
    return status;
  }
  *factor *= cavum_contour_length_m(made) / cavum_contour_length_m(contour);
  cavum_contour_clear(contour);
  *contour = *made;
  return CAVUM_OK;
}

static cavum_status take_out(cavum_contour *contour, double *factor, double low_m, double high_m,
                             cavum_error *error) {
  cavum_contour joined = {0};
  cavum_status status = cavum_contour_take_out(&joined, contour, low_m, high_m, error);
  return status == CAVUM_OK ? put(contour, factor, &joined, error) : status;
}

static cavum_status put_in(cavum_contour *contour, double *factor, double z_m, double length_m,
                           cavum_error *error) {
  cavum_contour longer = {0};
  cavum_status status = cavum_contour_put_in(&longer, contour, z_m, length_m, error);
  return status == CAVUM_OK ? put(contour, factor, &longer, error) : status;
}

static cavum_status add_at_equator(cavum_contour *contour, double *factor, double length_m,
                                   cavum_error *error) {
  double equator_m = cavum_contour_equator_m(contour);
  return length_m > 0.0
             ? put_in(contour, factor, equator_m, 2.0 * length_m, error)
             : take_out(contour, factor, equator_m + length_m, equator_m - length_m, error);
}

static cavum_status add_at_end(cavum_contour *contour, double *factor, double end_m, bool right,
                               double length_m, cavum_error *error) {
  if (length_m > 0.0) return put_in(contour, factor, end_m, length_m, error);
  return right ? take_out(contour, factor, end_m + length_m, end_m, error)
               : take_out(contour, factor, end_m, end_m - length_m, error);
}

static cavum_status add_at_irises(cavum_contour *contour, double *factor, cavum_wall_place place,
                                  double length_m, cavum_error *error) {
  double left_m = 0.0, right_m = 0.0;
  cavum_status status = CAVUM_OK;
  cavum_contour_find_ends(&left_m, &right_m, contour);
  if (-2.0 * length_m >= right_m - left_m) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "more is taken than the length of the cell, %g mm",
                      cavum_in_mm(right_m - left_m));
  }
  if (place != CAVUM_AT_LEFT_IRIS) {
    status = add_at_end(contour, factor, right_m, true, length_m, error);
  }
  if (status == CAVUM_OK && place != CAVUM_AT_RIGHT_IRIS) {
    status = add_at_end(contour, factor, left_m, false, length_m, error);
  }
  return status;
}

static cavum_status copy(cavum_contour *to, const cavum_contour *from, cavum_error *error) {
  cavum_contour made = {.num_curves = from->num_curves,
                        .curves = cavum_alloc(from->num_curves, sizeof *made.curves)};
  if (!made.curves) return cavum_fail_memory(error);
  for (cavum_index i = 0; i < from->num_curves; i++) made.curves[i] = from->curves[i];
  *to = made;
  return CAVUM_OK;
}

cavum_status cavum_contour_add_length(cavum_contour *contour, double *factor,
                                      cavum_wall_place place, double length_m, cavum_error *error) {
  cavum_contour made = {0};
  double grown = *factor;
  if (length_m == 0.0) return CAVUM_OK;
  cavum_status status = copy(&made, contour, error);
  if (status != CAVUM_OK) return status;
  status = place == CAVUM_AT_EQUATOR ? add_at_equator(&made, &grown, length_m, error)
                                     : add_at_irises(&made, &grown, place, length_m, error);
  if (status != CAVUM_OK) {
    cavum_contour_clear(&made);
    return status;
  }
  cavum_contour_clear(contour);
  *contour = made;
  *factor = grown;
  return CAVUM_OK;
}
