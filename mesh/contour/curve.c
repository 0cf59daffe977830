// SPDX-License-Identifier: GPL-3.0-or-later
// Exact curves: points, derivatives, arc length, and how lines and arcs are made. Ends are handed
// out as stored, so that neighbouring curves meet in the same bits; everything between follows the
// formula of the kind.
#include "contour/curve.h"

#include <float.h>
#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/gauss.h"
#include "contour/parallel.h"

// Halves whose sum agrees with the whole to this fraction of the length are good enough: the sum
// is then itself far better, since a 16-point rule gains 2^32 from one halving of a smooth speed.
static const double LENGTH_TOLERANCE = 1e-14;
// A cusp of a cubic is approached by halving; 2^-50 of the interval no longer counts.
enum { LENGTH_DEPTH = 50 };

// Ends may miss the stated ellipse by this fraction of its half axes: six digits in a file.
static const double LARGEST_DEVIATION = 1e-6;
// Largest move of the centre, in half axes, that may come from it; more would turn a short arc.
static const double LARGEST_CENTRE_SHIFT = 1e-3;
// Ends closer than this, in half axes, are one point.
static const double SMALLEST_CHORD = 1e-9;

static double eccentric_angle(const cavum_curve *curve, double t) {
  return curve->angle_start_rad + t * (curve->angle_end_rad - curve->angle_start_rad);
}

// cos and sin of the eccentric angle; of an ellipse only.
typedef struct turn {
  double cosine, sine;
} turn;

static turn turn_at(const cavum_curve *curve, double t) {
  if (curve->kind != CAVUM_CURVE_ELLIPSE) return (turn){0.0, 0.0};
  double angle = eccentric_angle(curve, t);
  return (turn){cos(angle), sin(angle)};
}

static cavum_point point_at(const cavum_curve *curve, double t, turn at) {
  if (t == 0.0) return curve->start;
  if (t == 1.0) return curve->end;
  cavum_point point = {0.0, 0.0};
  if (curve->kind == CAVUM_CURVE_LINE) {
    point.z_m = curve->start.z_m + t * (curve->end.z_m - curve->start.z_m);
    point.r_m = curve->start.r_m + t * (curve->end.r_m - curve->start.r_m);
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    point.z_m = curve->centre.z_m + curve->axial_m * at.cosine;
    point.r_m = curve->centre.r_m + curve->radial_m * at.sine;
  } else if (cavum_curve_is_parallel(curve)) {
    point = cavum_parallel_at(curve, t).point;
  } else {
    const cavum_point *c = curve->cubic;
    point.z_m = ((c[3].z_m * t + c[2].z_m) * t + c[1].z_m) * t + c[0].z_m;
    point.r_m = ((c[3].r_m * t + c[2].r_m) * t + c[1].r_m) * t + c[0].r_m;
  }
  return point;
}

static cavum_point derivative_at(const cavum_curve *curve, double t, turn at) {
  cavum_point derivative = {0.0, 0.0};
  if (curve->kind == CAVUM_CURVE_LINE) {
    derivative.z_m = curve->end.z_m - curve->start.z_m;
    derivative.r_m = curve->end.r_m - curve->start.r_m;
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    derivative.z_m = -sweep * curve->axial_m * at.sine;
    derivative.r_m = sweep * curve->radial_m * at.cosine;
  } else if (cavum_curve_is_parallel(curve)) {
    derivative = cavum_parallel_at(curve, t).first;
  } else {
    const cavum_point *c = curve->cubic;
    derivative.z_m = (3.0 * c[3].z_m * t + 2.0 * c[2].z_m) * t + c[1].z_m;
    derivative.r_m = (3.0 * c[3].r_m * t + 2.0 * c[2].r_m) * t + c[1].r_m;
  }
  return derivative;
}

static const cavum_point nowhere = {NAN, NAN};

cavum_point cavum_curve_point(const cavum_curve *curve, double t) {
  if (!curve) return nowhere;
  return point_at(curve, t, turn_at(curve, t));
}

cavum_point cavum_curve_derivative(const cavum_curve *curve, double t) {
  if (!curve) return nowhere;
  return derivative_at(curve, t, turn_at(curve, t));
}

void cavum_curve_at(cavum_point *point, cavum_point *derivative, const cavum_curve *curve,
                    double t) {
  cavum_point here = nowhere, along = nowhere;
  if (curve && cavum_curve_is_parallel(curve)) {
    cavum_parallel_place place = cavum_parallel_at(curve, t);
    here = t == 0.0 ? curve->start : t == 1.0 ? curve->end : place.point;
    along = place.first;
  } else if (curve) {
    turn at = turn_at(curve, t);
    here = point_at(curve, t, at);
    along = derivative_at(curve, t, at);
  }
  if (point) *point = here;
  if (derivative) *derivative = along;
}

cavum_point cavum_curve_second_derivative(const cavum_curve *curve, double t) {
  cavum_point second = {0.0, 0.0};
  if (!curve) return nowhere;
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double angle = eccentric_angle(curve, t);
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    second.z_m = -sweep * sweep * curve->axial_m * cos(angle);
    second.r_m = -sweep * sweep * curve->radial_m * sin(angle);
  } else if (curve->kind == CAVUM_CURVE_CUBIC) {
    const cavum_point *c = curve->cubic;
    second.z_m = 6.0 * c[3].z_m * t + 2.0 * c[2].z_m;
    second.r_m = 6.0 * c[3].r_m * t + 2.0 * c[2].r_m;
  } else if (cavum_curve_is_parallel(curve)) {
    second = cavum_parallel_at(curve, t).second;
  }
  return second;
}

static double speed(const cavum_curve *curve, double t) {
  cavum_point derivative = cavum_curve_derivative(curve, t);
  return hypot(derivative.z_m, derivative.r_m);
}

static double gauss_length(const cavum_curve *curve, double t0, double t1) {
  double middle = 0.5 * (t0 + t1), half = 0.5 * (t1 - t0), sum = 0.0;
  for (int i = 0; i < CAVUM_HALF_RULE; i++) {
    double offset = half * cavum_gauss_abscissa[i];
    sum += cavum_gauss_weight[i] * (speed(curve, middle - offset) + speed(curve, middle + offset));
  }
  return half * sum;
}

static double adaptive_length(const cavum_curve *curve, double t0, double t1, double whole,
                              double tolerance_m, int depth) {
  double middle = 0.5 * (t0 + t1);
  double left = gauss_length(curve, t0, middle), right = gauss_length(curve, middle, t1);
  // Written so that a NaN ends the halving.
  if (depth == 0 || !(fabs(left + right - whole) > tolerance_m)) return left + right;
  return adaptive_length(curve, t0, middle, left, tolerance_m, depth - 1) +
         adaptive_length(curve, middle, t1, right, tolerance_m, depth - 1);
}

double cavum_curve_length(const cavum_curve *curve, double t0, double t1) {
  if (!curve) return NAN;
  bool constant_speed = curve->kind == CAVUM_CURVE_LINE ||
                        (curve->kind == CAVUM_CURVE_ELLIPSE && curve->axial_m == curve->radial_m);
  if (constant_speed) return (t1 - t0) * speed(curve, 0.0);
  double whole = gauss_length(curve, t0, t1);
  return adaptive_length(curve, t0, t1, whole, LENGTH_TOLERANCE * whole, LENGTH_DEPTH);
}

cavum_curve cavum_curve_make_line(cavum_point start, cavum_point end, cavum_boundary boundary) {
  cavum_curve curve = {.kind = CAVUM_CURVE_LINE, .boundary = boundary, .start = start, .end = end};
  return curve;
}

/** A point in the coordinates in which the ellipse is the unit circle about the origin. */
static cavum_point scale_to_circle(cavum_point point, const cavum_arc *arc) {
  cavum_point scaled = {(point.z_m - arc->centre.z_m) / arc->axial_m,
                        (point.r_m - arc->centre.r_m) / arc->radial_m};
  return scaled;
}

static double norm(cavum_point point) { return hypot(point.z_m, point.r_m); }

/** Sets the half axes of a circle from its ends. */
static cavum_status set_circle_radius(cavum_arc *arc, cavum_error *error) {
  double first_m = hypot(arc->start.z_m - arc->centre.z_m, arc->start.r_m - arc->centre.r_m);
  double last_m = hypot(arc->end.z_m - arc->centre.z_m, arc->end.r_m - arc->centre.r_m);
  double radius_m = 0.5 * (first_m + last_m);
  if (!(radius_m > 0.0) || fabs(first_m - last_m) > LARGEST_DEVIATION * radius_m) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "no circle: the start is %.9g mm from the centre and the end %.9g mm, "
                      "expected equal distances",
                      cavum_in_mm(first_m), cavum_in_mm(last_m));
  }
  arc->axial_m = arc->radial_m = radius_m;
  return CAVUM_OK;
}

static cavum_status check_on_ellipse(cavum_point scaled, const char *which, cavum_error *error) {
  double distance = norm(scaled);
  if (fabs(distance - 1.0) <= LARGEST_DEVIATION) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "the %s is not on the ellipse: its distance from the centre is %.9g of the "
                    "half axes, expected 1 within %g",
                    which, distance, LARGEST_DEVIATION);
}

/** Moves the centre and scales the half axes so that both ends are on the ellipse. */
static cavum_status fit_ellipse(cavum_arc *arc, cavum_error *error) {
  cavum_point first = scale_to_circle(arc->start, arc), last = scale_to_circle(arc->end, arc);
  cavum_status status = check_on_ellipse(first, "start", error);
  if (status == CAVUM_OK) status = check_on_ellipse(last, "end", error);
  if (status != CAVUM_OK) return status;
  cavum_point chord = {last.z_m - first.z_m, last.r_m - first.r_m};
  double length = norm(chord);
  if (length < SMALLEST_CHORD) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "an arc from a point to itself is not accepted, write a full circle or "
                      "ellipse as two arcs");
  }
  // |last|^2 - |first|^2 = (last - first) . (last + first), twice the middle along the chord.
  double shift =
      0.5 * (chord.z_m * (last.z_m + first.z_m) + chord.r_m * (last.r_m + first.r_m)) / length;
  if (fabs(shift) > LARGEST_CENTRE_SHIFT) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "the ends of this short arc miss its ellipse by too much for their distance, "
                      "give more digits");
  }
  if (fabs(shift) < 4.0 * DBL_EPSILON) shift = 0.0;
  cavum_point centre = {shift * chord.z_m / length, shift * chord.r_m / length};
  double scale = 0.5 * (hypot(first.z_m - centre.z_m, first.r_m - centre.r_m) +
                        hypot(last.z_m - centre.z_m, last.r_m - centre.r_m));
  if (fabs(scale - 1.0) < 4.0 * DBL_EPSILON) scale = 1.0;
  arc->centre.z_m += arc->axial_m * centre.z_m;
  arc->centre.r_m += arc->radial_m * centre.r_m;
  arc->axial_m *= scale;
  arc->radial_m *= scale;
  return CAVUM_OK;
}

cavum_status cavum_curve_make_arc(cavum_curve *curve, const cavum_arc *arc, cavum_error *error) {
  cavum_arc fitted = *arc;
  cavum_status status = CAVUM_OK;
  if (fitted.axial_m == 0.0) status = set_circle_radius(&fitted, error);
  if (status == CAVUM_OK) status = fit_ellipse(&fitted, error);
  if (status != CAVUM_OK) return status;
  cavum_point first = scale_to_circle(fitted.start, &fitted);
  cavum_point last = scale_to_circle(fitted.end, &fitted);
  double angle_start = atan2(first.r_m, first.z_m), angle_end = atan2(last.r_m, last.z_m);
  if (fitted.turn_left && angle_end <= angle_start) angle_end += 2.0 * CAVUM_PI;
  if (!fitted.turn_left && angle_end >= angle_start) angle_end -= 2.0 * CAVUM_PI;
  cavum_curve result = {.kind = CAVUM_CURVE_ELLIPSE,
                        .boundary = fitted.boundary,
                        .start = fitted.start,
                        .end = fitted.end,
                        .centre = fitted.centre,
                        .axial_m = fitted.axial_m,
                        .radial_m = fitted.radial_m,
                        .angle_start_rad = angle_start,
                        .angle_end_rad = angle_end};
  *curve = result;
  return CAVUM_OK;
}
