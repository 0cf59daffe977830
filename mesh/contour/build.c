// SPDX-License-Identifier: GPL-3.0-or-later
// Putting a contour together piece by piece. Curves are appended in the order of travel; that they
// close and do not cross is left to contour_check.c.
#include "contour/build.h"

#include <float.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"

// Ends may miss the stated ellipse by this fraction of its half axes: six digits in a file.
static const double largest_deviation = 1e-6;
// Largest move of the centre, in half axes, that may come from it; more would turn a short arc.
static const double largest_centre_shift = 1e-3;
// Ends closer than this, in half axes, are one point.
static const double smallest_chord = 1e-9;

void cavum_contour_clear(cavum_contour *contour) {
  if (!contour) return;
  free(contour->curves);
  memset(contour, 0, sizeof *contour);
}

void cavum_outline_clear(cavum_outline *outline) {
  cavum_contour_clear(&outline->contour);
  free(outline->labels);
  memset(outline, 0, sizeof *outline);
}

cavum_status cavum_outline_append(cavum_outline *outline, const cavum_curve *curve,
                                  const char *label, cavum_error *error) {
  int64_t count = outline->contour.num_curves;
  if (count >= CAVUM_LARGEST_CONTOUR) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY, "more than %d curves in one contour",
                      CAVUM_LARGEST_CONTOUR);
  }
  void *curves = outline->contour.curves, *labels = outline->labels;
  bool grown = cavum_grow(&curves, &outline->curve_capacity, count + 1, sizeof *curve);
  outline->contour.curves = curves;
  if (grown) {
    grown = cavum_grow(&labels, &outline->label_capacity, count + 1, sizeof *outline->labels);
    outline->labels = labels;
  }
  if (!grown) return cavum_fail_memory(error);
  outline->contour.curves[count] = *curve;
  snprintf(outline->labels[count].text, CAVUM_LABEL_SIZE, "%s", label);
  outline->contour.num_curves = (cavum_index)(count + 1);
  return CAVUM_OK;
}

cavum_contour cavum_outline_release(cavum_outline *outline) {
  cavum_contour contour = outline->contour;
  free(outline->labels);
  memset(outline, 0, sizeof *outline);
  return contour;
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
  if (!(radius_m > 0.0) || fabs(first_m - last_m) > largest_deviation * radius_m) {
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
  if (fabs(distance - 1.0) <= largest_deviation) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "the %s is not on the ellipse: its distance from the centre is %.9g of the "
                    "half axes, expected 1 within %g",
                    which, distance, largest_deviation);
}

/** Moves the centre and scales the half axes so that both ends are on the ellipse. */
static cavum_status fit_ellipse(cavum_arc *arc, cavum_error *error) {
  cavum_point first = scale_to_circle(arc->start, arc), last = scale_to_circle(arc->end, arc);
  cavum_status status = check_on_ellipse(first, "start", error);
  if (status == CAVUM_OK) status = check_on_ellipse(last, "end", error);
  if (status != CAVUM_OK) return status;
  cavum_point chord = {last.z_m - first.z_m, last.r_m - first.r_m};
  double length = norm(chord);
  if (length < smallest_chord) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "an arc from a point to itself is not accepted, write a full circle or "
                      "ellipse as two arcs");
  }
  // |last|^2 - |first|^2 = (last - first) . (last + first), twice the middle along the chord.
  double shift =
      0.5 * (chord.z_m * (last.z_m + first.z_m) + chord.r_m * (last.r_m + first.r_m)) / length;
  if (fabs(shift) > largest_centre_shift) {
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
