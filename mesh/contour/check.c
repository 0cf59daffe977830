// SPDX-License-Identifier: GPL-3.0-or-later
// Whether a contour is the outline of a domain. The crossings live in crossing.c; here are
// the rules for single pieces, the axis, and the sense of travel.
#include "contour/check.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/crossing.h"
#include "contour/gauss.h"
#include "contour/parallel.h"
#include "contour/subcurve.h"

/** What every step of the check needs. */
typedef struct check_context {
  const cavum_contour *contour;
  const cavum_curve_label *labels;
  double size_m;
  cavum_index culprit;
  cavum_error *error;
} check_context;

static cavum_curve_label label_of(const check_context *context, cavum_index index) {
  cavum_curve_label label;
  if (context->labels) return context->labels[index];
  snprintf(label.text, sizeof label.text, "piece %d", index + 1);
  return label;
}

/** Refuses one curve: the message is its label and what is wrong. */
static cavum_status refuse(check_context *context, cavum_index index, const char *what) {
  context->culprit = index;
  return cavum_fail(context->error, CAVUM_ERR_GEOMETRY, "%s %s", label_of(context, index).text,
                    what);
}

/** The same with a place. */
static cavum_status refuse_at(check_context *context, cavum_index index, const char *what,
                              cavum_point place) {
  context->culprit = index;
  return cavum_fail(context->error, CAVUM_ERR_GEOMETRY, "%s %s at z = %.9g mm, r = %.9g mm",
                    label_of(context, index).text, what, cavum_in_mm(place.z_m),
                    cavum_in_mm(place.r_m));
}

void cavum_contour_find_extent(double *low_m, double *high_m, const cavum_contour *contour) {
  *low_m = HUGE_VAL;
  *high_m = -HUGE_VAL;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    *low_m = cavum_min(*low_m, contour->curves[i].start.z_m);
    *high_m = cavum_max(*high_m, contour->curves[i].start.z_m);
  }
}

double cavum_contour_middle_m(const cavum_contour *contour) {
  double low_m, high_m;
  cavum_contour_find_extent(&low_m, &high_m, contour);
  return 0.5 * (low_m + high_m);
}

double cavum_contour_size_m(const cavum_contour *contour) {
  double low_z = HUGE_VAL, high_z = -HUGE_VAL, low_r = HUGE_VAL, high_r = -HUGE_VAL;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    for (int k = 0; k < 4; k++) {
      cavum_point point = cavum_curve_point(&contour->curves[i], 0.25 * k);
      low_z = cavum_min(low_z, point.z_m);
      high_z = cavum_max(high_z, point.z_m);
      low_r = cavum_min(low_r, point.r_m);
      high_r = cavum_max(high_r, point.r_m);
    }
  }
  return contour->num_curves > 0 ? hypot(high_z - low_z, high_r - low_r) : 0.0;
}

// The same of a parallel, by a rule that takes smooth curves to rounding on each of its parts.
static double swept_by_parallel_m2(const cavum_curve *curve, cavum_point origin) {
  enum { PARTS = 4 };
  double sum = 0.0;
  for (int i = 0; i < PARTS * 2 * CAVUM_HALF_RULE; i++) {
    int part = i / (2 * CAVUM_HALF_RULE), k = i % CAVUM_HALF_RULE;
    double side = i % (2 * CAVUM_HALF_RULE) < CAVUM_HALF_RULE ? -1.0 : 1.0;
    double t = (part + 0.5 + 0.5 * side * cavum_gauss_abscissa[k]) / PARTS;
    cavum_parallel_place at = cavum_parallel_at(curve, t);
    sum += cavum_gauss_weight[k] * ((at.point.z_m - origin.z_m) * at.first.r_m -
                                    (at.point.r_m - origin.r_m) * at.first.z_m);
  }
  return 0.25 * sum / PARTS;
}

/** Half of the integral of (z dr - r dz) along a curve, z and r counted from origin. */
static double swept_area_m2(const cavum_curve *curve, cavum_point origin) {
  // Three points are exact for the degree 5 of a cubic times its derivative.
  static const double abscissa[3] = {0.11270166537925831, 0.5, 0.88729833462074169};
  static const double weight[3] = {5.0 / 18.0, 4.0 / 9.0, 5.0 / 18.0};
  cavum_point a = {curve->start.z_m - origin.z_m, curve->start.r_m - origin.r_m};
  cavum_point b = {curve->end.z_m - origin.z_m, curve->end.r_m - origin.r_m};
  if (curve->kind == CAVUM_CURVE_LINE) return 0.5 * (a.z_m * b.r_m - a.r_m * b.z_m);
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    double z = curve->centre.z_m - origin.z_m, r = curve->centre.r_m - origin.r_m;
    return 0.5 *
           (sweep * curve->axial_m * curve->radial_m + z * (b.r_m - a.r_m) - r * (b.z_m - a.z_m));
  }
  if (cavum_curve_is_parallel(curve)) return swept_by_parallel_m2(curve, origin);
  double sum = 0.0;
  for (int i = 0; i < 3; i++) {
    cavum_point point = cavum_curve_point(curve, abscissa[i]);
    cavum_point derivative = cavum_curve_derivative(curve, abscissa[i]);
    sum += weight[i] *
           ((point.z_m - origin.z_m) * derivative.r_m - (point.r_m - origin.r_m) * derivative.z_m);
  }
  return 0.5 * sum;
}

double cavum_contour_area_m2(const cavum_contour *contour) {
  double area_m2 = 0.0;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    area_m2 += swept_area_m2(&contour->curves[i], contour->curves[0].start);
  }
  return area_m2;
}

static bool is_finite_point(cavum_point point) {
  return isfinite(point.z_m) && isfinite(point.r_m);
}

static bool has_sound_layers(const cavum_curve *curve) {
  cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS];
  int count = cavum_parallel_get(layers, curve);
  for (int i = 0; i < count; i++) {
    if (!isfinite(layers[i].offset_m) || !isfinite(layers[i].lengthening)) return false;
    if (!(layers[i].lengthening > -1.0)) return false;
  }
  return true;
}

static bool is_finite_curve(const cavum_curve *curve) {
  if (!is_finite_point(curve->start) || !is_finite_point(curve->end)) return false;
  if (cavum_curve_is_parallel(curve) && !has_sound_layers(curve)) return false;
  if (cavum_curve_is_of_ellipse(curve)) {
    return is_finite_point(curve->centre) && isfinite(curve->axial_m) &&
           isfinite(curve->radial_m) && isfinite(curve->angle_start_rad) &&
           isfinite(curve->angle_end_rad) && curve->axial_m > 0.0 && curve->radial_m > 0.0;
  }
  for (int k = 0; cavum_curve_is_of_cubic(curve) && k < 4; k++) {
    if (!is_finite_point(curve->cubic[k])) return false;
  }
  return true;
}

static bool same_point(cavum_point a, cavum_point b) { return a.z_m == b.z_m && a.r_m == b.r_m; }

static bool has_known_kinds(const cavum_curve *curve) {
  return (curve->kind == CAVUM_CURVE_LINE || curve->kind == CAVUM_CURVE_ELLIPSE ||
          curve->kind == CAVUM_CURVE_CUBIC || cavum_curve_is_parallel(curve)) &&
         curve->boundary >= CAVUM_BOUNDARY_METAL && curve->boundary <= CAVUM_BOUNDARY_SYMMETRY;
}

static cavum_status check_finite(check_context *context) {
  for (cavum_index i = 0; i < context->contour->num_curves; i++) {
    if (!has_known_kinds(&context->contour->curves[i])) {
      return refuse(context, i, "has a kind or a boundary that is not stated or unknown");
    }
    if (!is_finite_curve(&context->contour->curves[i])) {
      return refuse(context, i,
                    "has numbers that are not finite, or half axes that are not positive");
    }
  }
  return CAVUM_OK;
}

// The formula of a curve against the ends that are stored with it: nothing below the smallest
// piece, nor the rounding of half axes far larger than the contour.
static bool formula_meets(const cavum_curve *curve, double t, cavum_point stored, double size_m) {
  const double rounding = 1e-14;
  cavum_point point = curve->cubic[0];
  double tolerance_m = CAVUM_CONTOUR_SMALLEST_PIECE * size_m;
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double angle = t == 0.0 ? curve->angle_start_rad : curve->angle_end_rad;
    point.z_m = curve->centre.z_m + curve->axial_m * cos(angle);
    point.r_m = curve->centre.r_m + curve->radial_m * sin(angle);
    tolerance_m += rounding * (curve->axial_m + curve->radial_m);
  } else if (cavum_curve_is_parallel(curve)) {
    point = cavum_parallel_at(curve, t).point;
  } else if (t == 1.0) {
    for (int k = 1; k < 4; k++) {
      point.z_m += curve->cubic[k].z_m;
      point.r_m += curve->cubic[k].r_m;
    }
  }
  return hypot(point.z_m - stored.z_m, point.r_m - stored.r_m) <= tolerance_m;
}

static cavum_status check_formulas(check_context *context) {
  for (cavum_index i = 0; i < context->contour->num_curves; i++) {
    const cavum_curve *curve = &context->contour->curves[i];
    if (curve->kind == CAVUM_CURVE_LINE) continue;
    bool at_start = formula_meets(curve, 0.0, curve->start, context->size_m);
    if (at_start && formula_meets(curve, 1.0, curve->end, context->size_m)) continue;
    return refuse_at(
        context, i,
        at_start ? "does not lead to its stored end" : "does not begin at its stored start",
        at_start ? curve->end : curve->start);
  }
  return CAVUM_OK;
}

static cavum_status check_joints(check_context *context) {
  const cavum_contour *contour = context->contour;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    const cavum_curve *next = &contour->curves[(i + 1) % contour->num_curves];
    if (!same_point(curve->end, next->start)) {
      return refuse_at(context, i, "does not end where the next piece starts, it ends", curve->end);
    }
    double length_m = cavum_curve_length(curve, 0.0, 1.0);
    if (!(length_m >= CAVUM_CONTOUR_SMALLEST_PIECE * context->size_m)) {
      return refuse_at(context, i, "has no length", curve->start);
    }
  }
  return CAVUM_OK;
}

/** Lowest point of a curve strictly between its ends; false when an end is the lowest. */
static bool find_inner_minimum(cavum_point *lowest, const cavum_curve *curve) {
  double candidates[2];
  int count = 0;
  if (cavum_curve_is_of_ellipse(curve)) {
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    for (int turn = -2; turn <= 2; turn++) {
      double t = ((2.0 * turn - 0.5) * CAVUM_PI - curve->angle_start_rad) / sweep;
      if (t > 0.0 && t < 1.0 && count < 2) candidates[count++] = t;
    }
  } else if (cavum_curve_is_of_cubic(curve)) {
    const cavum_point *c = curve->cubic;
    count = cavum_subcurve_roots(candidates, 3.0 * c[3].r_m, 2.0 * c[2].r_m, c[1].r_m);
  }
  bool found = false;
  for (int i = 0; i < count; i++) {
    cavum_point point = cavum_curve_point(curve, candidates[i]);
    double limit_m = found ? lowest->r_m : cavum_min(curve->start.r_m, curve->end.r_m);
    if (point.r_m > limit_m) continue;
    *lowest = point;
    found = true;
  }
  return found;
}

static cavum_status check_axis_piece(check_context *context, cavum_index index) {
  const cavum_curve *curve = &context->contour->curves[index];
  if (curve->kind != CAVUM_CURVE_LINE) {
    return refuse(context, index, "is curved, expected a straight line along r = 0 for the axis");
  }
  if (curve->start.r_m != 0.0 || curve->end.r_m != 0.0) {
    return refuse_at(context, index, "is called axis but leaves r = 0, it ends", curve->end);
  }
  return CAVUM_OK;
}

static cavum_status check_wall_piece(check_context *context, cavum_index index) {
  const cavum_contour *contour = context->contour;
  const cavum_curve *curve = &contour->curves[index];
  cavum_point lowest;
  if (curve->start.r_m < 0.0 || curve->end.r_m < 0.0) {
    return refuse_at(context, index, "lies below the axis (r < 0)",
                     curve->start.r_m < 0.0 ? curve->start : curve->end);
  }
  if (find_inner_minimum(&lowest, curve)) {
    if (lowest.r_m < -CAVUM_CONTOUR_TOUCHING * context->size_m) {
      return refuse_at(context, index, "crosses the axis, it is lowest", lowest);
    }
    if (lowest.r_m <= CAVUM_CONTOUR_TOUCHING * context->size_m) {
      return refuse_at(context, index, "touches the axis", lowest);
    }
  }
  if (curve->kind == CAVUM_CURVE_LINE && curve->start.r_m == 0.0 && curve->end.r_m == 0.0) {
    return refuse(context, index, "runs along r = 0, expected boundary: axis there");
  }
  const cavum_curve *next = &contour->curves[(index + 1) % contour->num_curves];
  if (curve->end.r_m == 0.0 && next->boundary != CAVUM_BOUNDARY_AXIS) {
    return refuse_at(
        context, index,
        "and the next piece touch the axis in one point, expected a piece of axis there,",
        curve->end);
  }
  return CAVUM_OK;
}

static cavum_status check_axis_rules(check_context *context) {
  const cavum_contour *contour = context->contour;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    bool axis = contour->curves[i].boundary == CAVUM_BOUNDARY_AXIS;
    cavum_status status = axis ? check_axis_piece(context, i) : check_wall_piece(context, i);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static cavum_status check_crossings(check_context *context) {
  cavum_crossing crossing;
  double size_m = context->size_m;
  cavum_status status = cavum_crossing_find(&crossing, context->contour, size_m);
  if (status != CAVUM_OK) return cavum_fail_memory(context->error);
  cavum_index first = crossing.first, second = crossing.second;
  cavum_index earlier = first < second ? first : second, later = first < second ? second : first;
  char other[CAVUM_LABEL_SIZE + 48];
  switch (crossing.kind) {
    case CAVUM_CROSSING_NONE:
      return CAVUM_OK;
    case CAVUM_CROSSING_CUSP:
      return refuse(context, first, "has a cusp or a kink inside");
    case CAVUM_CROSSING_FOLD:
      return refuse_at(context, first, "and the next piece turn back on themselves",
                       crossing.place);
    case CAVUM_CROSSING_MEET:
      if (first == second) return refuse_at(context, first, "crosses itself", crossing.place);
      snprintf(other, sizeof other, "crosses or touches %s,", label_of(context, earlier).text);
      return refuse_at(context, later, other, crossing.place);
    case CAVUM_CROSSING_UNDECIDED:
      snprintf(other, sizeof other, "runs too close to %s to tell them apart,",
               label_of(context, earlier).text);
      return refuse_at(context, later, other, crossing.place);
  }
  return CAVUM_OK;
}

static cavum_status check_sense(check_context *context) {
  double area_m2 = cavum_contour_area_m2(context->contour);
  context->culprit = -1;
  if (fabs(area_m2) < 1e-12 * context->size_m * context->size_m) {
    return cavum_fail(context->error, CAVUM_ERR_GEOMETRY, "the contour encloses no area");
  }
  if (area_m2 > 0.0) return CAVUM_OK;
  return cavum_fail(context->error, CAVUM_ERR_GEOMETRY,
                    "the contour runs clockwise, expected the inside on the left of travel (start "
                    "along the axis toward larger z)");
}

cavum_status cavum_contour_check(const cavum_contour *contour, const cavum_curve_label *labels,
                                 cavum_index *culprit, cavum_error *error) {
  check_context context = {.contour = contour, .labels = labels, .culprit = -1, .error = error};
  cavum_status status = CAVUM_OK;
  if (contour->num_curves < 2) {
    status =
        cavum_fail(error, CAVUM_ERR_GEOMETRY,
                   "a contour needs at least two pieces, this one has %d", contour->num_curves);
    goto done;
  }
  CAVUM_TRY(check_finite(&context));
  context.size_m = cavum_contour_size_m(contour);
  CAVUM_TRY(check_formulas(&context));
  CAVUM_TRY(check_joints(&context));
  CAVUM_TRY(check_axis_rules(&context));
  CAVUM_TRY(check_crossings(&context));
  CAVUM_TRY(check_sense(&context));
done:
  if (status != CAVUM_OK && culprit) *culprit = context.culprit;
  return status;
}
