// SPDX-License-Identifier: GPL-3.0-or-later
// The two-ellipse cell. Each half is worked out in its own frame, equator plane at 0 and iris plane
// at +half_length; the left one is mirrored as its pieces are written.
#include "contour/two_ellipse.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "contour/curve.h"

// A straight piece, or a step between iris and tube, shorter than this part of the cell is left
// out.
static const double NEGLIGIBLE_LENGTH = 1e-9;
// Ellipses that overlap by no more than rounding in the dimensions touch.
static const double TOUCHING = 1e-12;
// Newton's iteration doubles its digits; only a double root (TOUCHING ellipses) takes long.
enum { LARGEST_ITERATION = 200 };

typedef struct half_frame {
  const cavum_half_cell *half;
  const cavum_end *end;
  const char *half_name;  // "left" or "right"
  double sign;            // +1 right, -1 left: z of the cell is sign times z of the half
  double tube_radius_m, tube_end_m;
} half_frame;

/** g and its derivative at m. */
static double tangent_condition(double *slope, const cavum_half_cell *half, double m) {
  double rise_m =
      half->iris_radius_m + half->iris_radial_m - (half->equator_radius_m - half->equator_radial_m);
  double equator = hypot(half->equator_axial_m, half->equator_radial_m * m);
  double iris = hypot(half->iris_axial_m, half->iris_radial_m * m);
  *slope = rise_m - half->equator_radial_m * half->equator_radial_m * m / equator -
           half->iris_radial_m * half->iris_radial_m * m / iris;
  return half->half_length_m + m * rise_m - equator - iris;
}

/** The largest root of g; false when there is none. */
static bool find_lean(double *lean, const cavum_half_cell *half) {
  double m = half->half_length_m / (half->equator_radius_m - half->iris_radius_m);
  for (int i = 0; i < LARGEST_ITERATION; i++) {
    double slope, value = tangent_condition(&slope, half, m);
    double noise = TOUCHING * (half->half_length_m + half->equator_radius_m * fabs(m));
    if (!isfinite(value)) return false;
    if (slope >= 0.0) {  // the top of g: no root unless the ellipses touch
      *lean = m;
      return value >= -noise;
    }
    double next = m - value / slope;
    if (next >= m || value >= 0.0) break;  // rounding has the last word
    m = next;
  }
  *lean = m;
  return true;
}

static cavum_status check_dimensions(const cavum_half_cell *half, const char *half_name,
                                     cavum_error *error) {
  const struct {
    const char *name;
    double value_m;
  } dimensions[] = {
      {"half_length", half->half_length_m},
      {"iris_radius", half->iris_radius_m},
      {"equator_radius", half->equator_radius_m},
      {"equator_ellipse axial", half->equator_axial_m},
      {"equator_ellipse radial", half->equator_radial_m},
      {"iris_ellipse axial", half->iris_axial_m},
      {"iris_ellipse radial", half->iris_radial_m},
  };
  for (size_t i = 0; i < sizeof dimensions / sizeof *dimensions; i++) {
    if (!(dimensions[i].value_m > 0.0) || !isfinite(dimensions[i].value_m)) {
      return cavum_fail(error, CAVUM_ERR_GEOMETRY, "%s half: %s is %.9g mm, must be positive",
                        half_name, dimensions[i].name, cavum_in_mm(dimensions[i].value_m));
    }
  }
  if (half->iris_radius_m < half->equator_radius_m) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                    "%s half: the iris radius (%.9g mm) must be smaller than the equator radius "
                    "(%.9g mm)",
                    half_name, cavum_in_mm(half->iris_radius_m),
                    cavum_in_mm(half->equator_radius_m));
}

static cavum_status fail_overlap(const cavum_half_cell *half, const char *half_name,
                                 cavum_error *error) {
  return cavum_fail(
      error, CAVUM_ERR_GEOMETRY,
      "%s half: no common tangent, the ellipses overlap: equator_ellipse (axial %.9g mm, radial "
      "%.9g mm) and iris_ellipse (axial %.9g mm, radial %.9g mm) are too large for half_length "
      "%.9g mm and equator_radius - iris_radius = %.9g mm",
      half_name, cavum_in_mm(half->equator_axial_m), cavum_in_mm(half->equator_radial_m),
      cavum_in_mm(half->iris_axial_m), cavum_in_mm(half->iris_radial_m),
      cavum_in_mm(half->half_length_m), cavum_in_mm(half->equator_radius_m - half->iris_radius_m));
}

cavum_status cavum_two_ellipse_tangent(cavum_common_tangent *tangent, const cavum_half_cell *half,
                                       const char *half_name, cavum_error *error) {
  cavum_status status = check_dimensions(half, half_name, error);
  if (status != CAVUM_OK) return status;
  double m;
  if (!find_lean(&m, half)) return fail_overlap(half, half_name, error);
  cavum_common_tangent result = {
      .lean_rad = atan(m),
      .equator_angle_rad = atan2(half->equator_radial_m * m, half->equator_axial_m),
      .iris_angle_rad = atan2(half->iris_radial_m * m, half->iris_axial_m) - CAVUM_PI,
  };
  result.equator_point.z_m = half->equator_axial_m * cos(result.equator_angle_rad);
  result.equator_point.r_m = half->equator_radius_m - half->equator_radial_m +
                             half->equator_radial_m * sin(result.equator_angle_rad);
  result.iris_point.z_m = half->half_length_m + half->iris_axial_m * cos(result.iris_angle_rad);
  result.iris_point.r_m =
      half->iris_radius_m + half->iris_radial_m + half->iris_radial_m * sin(result.iris_angle_rad);
  // Along the wall, which runs down in the direction (m, -1); rounding may make TOUCHING ellipses
  // overlap by a little.
  double along_m = (m * (result.iris_point.z_m - result.equator_point.z_m) -
                    (result.iris_point.r_m - result.equator_point.r_m)) /
                   hypot(m, 1.0);
  result.straight_m = cavum_max(0.0, along_m);
  *tangent = result;
  return CAVUM_OK;
}

double cavum_ellipse_curvature_radius_m(double axial_m, double radial_m, double angle) {
  double a = axial_m, b = radial_m;
  double q = a * a * sin(angle) * sin(angle) + b * b * cos(angle) * cos(angle);
  return q * sqrt(q) / (a * b);
}

double cavum_two_ellipse_iris_curvature_m(const cavum_half_cell *half,
                                          const cavum_common_tangent *tangent) {
  double end = tangent->iris_angle_rad, a = half->iris_axial_m, b = half->iris_radial_m;
  double least = cavum_min(cavum_ellipse_curvature_radius_m(a, b, -0.5 * CAVUM_PI),
                           cavum_ellipse_curvature_radius_m(a, b, end));
  if (!(end < -CAVUM_PI)) return least;
  return cavum_min(least, cavum_ellipse_curvature_radius_m(a, b, -CAVUM_PI));
}

static cavum_point place(const half_frame *frame, double z_m, double r_m) {
  cavum_point point = {frame->sign * z_m, r_m};
  return point;
}

static cavum_status append(cavum_contour_builder *builder, const cavum_curve *curve,
                           const char *half_name, const char *what, cavum_error *error) {
  char label[CAVUM_LABEL_SIZE];
  snprintf(label, sizeof label, "%s %s", half_name, what);
  return cavum_contour_builder_append(builder, curve, label, error);
}

/** Appends the straight line between two points of a half, travelled right to left in the cell. */
static cavum_status append_line(cavum_contour_builder *builder, const half_frame *frame,
                                cavum_point outer, cavum_point inner, cavum_boundary boundary,
                                const char *what, cavum_error *error) {
  cavum_curve line = frame->sign > 0.0 ? cavum_curve_make_line(outer, inner, boundary)
                                       : cavum_curve_make_line(inner, outer, boundary);
  return append(builder, &line, frame->half_name, what, error);
}

/** Appends an arc between two points of a half; outer is the one nearer to the iris. */
static cavum_status append_arc(cavum_contour_builder *builder, const half_frame *frame,
                               cavum_arc arc, cavum_point outer, cavum_point inner,
                               const char *what, cavum_error *error) {
  arc.start = frame->sign > 0.0 ? outer : inner;
  arc.end = frame->sign > 0.0 ? inner : outer;
  arc.boundary = CAVUM_BOUNDARY_METAL;
  cavum_curve curve;
  cavum_status status = cavum_curve_make_arc(&curve, &arc, error);
  if (status != CAVUM_OK) return status;
  return append(builder, &curve, frame->half_name, what, error);
}

static cavum_status append_iris_arc(cavum_contour_builder *builder, const half_frame *frame,
                                    cavum_point joint, cavum_error *error) {
  const cavum_half_cell *half = frame->half;
  cavum_arc arc = {
      .centre = place(frame, half->half_length_m, half->iris_radius_m + half->iris_radial_m),
      .axial_m = half->iris_axial_m,
      .radial_m = half->iris_radial_m,
      .turn_left = false};
  cavum_point iris = place(frame, half->half_length_m, half->iris_radius_m);
  return append_arc(builder, frame, arc, iris, joint, "iris ellipse", error);
}

static cavum_status append_equator_arc(cavum_contour_builder *builder, const half_frame *frame,
                                       cavum_point joint, cavum_error *error) {
  const cavum_half_cell *half = frame->half;
  cavum_arc arc = {.centre = {0.0, half->equator_radius_m - half->equator_radial_m},
                   .axial_m = half->equator_axial_m,
                   .radial_m = half->equator_radial_m,
                   .turn_left = true};
  cavum_point equator = {0.0, half->equator_radius_m};
  return append_arc(builder, frame, arc, joint, equator, "equator ellipse", error);
}

/** Appends iris ellipse, straight wall and equator ellipse of one half, in the order of travel. */
static cavum_status append_wall(cavum_contour_builder *builder, const half_frame *frame,
                                cavum_error *error) {
  cavum_common_tangent tangent;
  cavum_status status;
  status = cavum_two_ellipse_tangent(&tangent, frame->half, frame->half_name, error);
  if (status != CAVUM_OK) return status;
  cavum_point iris = place(frame, tangent.iris_point.z_m, tangent.iris_point.r_m);
  cavum_point equator = place(frame, tangent.equator_point.z_m, tangent.equator_point.r_m);
  double size_m = hypot(frame->half->half_length_m, frame->half->equator_radius_m);
  bool straight = tangent.straight_m >= NEGLIGIBLE_LENGTH * size_m;
  if (!straight) equator = iris;
  if (frame->sign > 0.0) {
    status = append_iris_arc(builder, frame, iris, error);
    if (status != CAVUM_OK) return status;
  } else {
    status = append_equator_arc(builder, frame, equator, error);
    if (status != CAVUM_OK) return status;
  }
  if (straight) {
    status =
        append_line(builder, frame, iris, equator, CAVUM_BOUNDARY_METAL, "straight wall", error);
    if (status != CAVUM_OK) return status;
  }
  if (frame->sign > 0.0) {
    status = append_equator_arc(builder, frame, equator, error);
    if (status != CAVUM_OK) return status;
  } else {
    status = append_iris_arc(builder, frame, iris, error);
    if (status != CAVUM_OK) return status;
  }
  return status;
}

static cavum_boundary end_boundary(const cavum_end *end) {
  switch (end->kind) {
    case CAVUM_END_METAL:
      return CAVUM_BOUNDARY_METAL;
    case CAVUM_END_ELECTRIC:
      return CAVUM_BOUNDARY_ELECTRIC;
    case CAVUM_END_MAGNETIC:
      return CAVUM_BOUNDARY_MAGNETIC;
    case CAVUM_END_UNSTATED:
    case CAVUM_END_TUBE:
      break;
  }
  return end->tube_close;
}

/** Appends the end plane, and for a tube its wall and the step at the iris plane. */
static cavum_status append_end(cavum_contour_builder *builder, const half_frame *frame,
                               cavum_error *error) {
  const double iris_z_m = frame->half->half_length_m, iris_r_m = frame->half->iris_radius_m;
  cavum_boundary closure = end_boundary(frame->end);
  cavum_point axis = place(frame, frame->tube_end_m, 0.0);
  cavum_point iris = place(frame, iris_z_m, iris_r_m);
  cavum_status status = CAVUM_OK;
  if (frame->end->kind != CAVUM_END_TUBE) {
    return append_line(builder, frame, axis, iris, closure, "end plane", error);
  }
  cavum_point far = place(frame, frame->tube_end_m, frame->tube_radius_m);
  cavum_point near = place(frame, iris_z_m, frame->tube_radius_m);
  bool step = frame->tube_radius_m != iris_r_m;
  bool right = frame->sign > 0.0;
  if (right) {
    status = append_line(builder, frame, axis, far, closure, "end plane", error);
    if (status != CAVUM_OK) return status;
  }
  if (!right && step) {
    status = append_line(builder, frame, near, iris, CAVUM_BOUNDARY_METAL, "tube step", error);
    if (status != CAVUM_OK) return status;
  }
  status = append_line(builder, frame, far, near, CAVUM_BOUNDARY_METAL, "tube", error);
  if (status != CAVUM_OK) return status;
  if (right && step) {
    status = append_line(builder, frame, near, iris, CAVUM_BOUNDARY_METAL, "tube step", error);
    if (status != CAVUM_OK) return status;
  }
  if (!right) {
    status = append_line(builder, frame, axis, far, closure, "end plane", error);
    if (status != CAVUM_OK) return status;
  }
  return status;
}

static cavum_status make_frame(half_frame *out, const cavum_half_cell *half, const cavum_end *end,
                               bool right, cavum_error *error) {
  half_frame frame = {.half = half, .end = end, .half_name = right ? "right" : "left"};
  frame.sign = right ? 1.0 : -1.0;
  frame.tube_radius_m = half->iris_radius_m;
  frame.tube_end_m = half->half_length_m;
  if (end->kind == CAVUM_END_TUBE) {
    bool valid = end->tube_length_m > 0.0 && isfinite(end->tube_length_m) &&
                 end->tube_radius_m > 0.0 && isfinite(end->tube_radius_m);
    if (!valid) {
      return cavum_fail(
          error, CAVUM_ERR_GEOMETRY, "%s tube: length %.9g mm and radius %.9g mm must be positive",
          frame.half_name, cavum_in_mm(end->tube_length_m), cavum_in_mm(end->tube_radius_m));
    }
    if (end->tube_close != CAVUM_BOUNDARY_METAL && end->tube_close != CAVUM_BOUNDARY_ELECTRIC &&
        end->tube_close != CAVUM_BOUNDARY_MAGNETIC) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s tube: closed by '%s', expected metal, electric or magnetic",
                        frame.half_name, cavum_boundary_name(end->tube_close));
    }
    double step_m = fabs(end->tube_radius_m - half->iris_radius_m);
    double size_m = hypot(half->half_length_m, half->equator_radius_m);
    if (step_m >= NEGLIGIBLE_LENGTH * size_m) frame.tube_radius_m = end->tube_radius_m;
    frame.tube_end_m += end->tube_length_m;
  }
  *out = frame;
  return CAVUM_OK;
}

static cavum_status append_axis(cavum_contour_builder *builder, double from_m, double to_m,
                                cavum_error *error) {
  cavum_point from = {from_m, 0.0}, to = {to_m, 0.0};
  cavum_curve axis = cavum_curve_make_line(from, to, CAVUM_BOUNDARY_AXIS);
  return cavum_contour_builder_append(builder, &axis, "axis", error);
}

static cavum_status append_equator_plane(cavum_contour_builder *builder, double equator_radius_m,
                                         cavum_error *error) {
  cavum_point top = {0.0, equator_radius_m}, foot = {0.0, 0.0};
  cavum_curve plane = cavum_curve_make_line(top, foot, CAVUM_BOUNDARY_SYMMETRY);
  return cavum_contour_builder_append(builder, &plane, "equator plane", error);
}

cavum_status cavum_two_ellipse_build(cavum_contour_builder *builder, const cavum_cell *cell,
                                     cavum_cell_part part, cavum_error *error) {
  half_frame left = {0}, right = {0};
  cavum_status status = CAVUM_OK;
  bool whole = part == CAVUM_PART_WHOLE;
  if (whole && cell->left.equator_radius_m != cell->right.equator_radius_m) {
    return cavum_fail(error, CAVUM_ERR_GEOMETRY,
                      "the halves do not meet: equator radius %.9g mm at the left, %.9g mm at the "
                      "right",
                      cavum_in_mm(cell->left.equator_radius_m),
                      cavum_in_mm(cell->right.equator_radius_m));
  }
  status = make_frame(&left, &cell->left, &cell->left_end, false, error);
  if (status == CAVUM_OK) status = make_frame(&right, &cell->right, &cell->right_end, true, error);
  if (status == CAVUM_OK) {
    status = append_axis(builder, whole ? -left.tube_end_m : 0.0, right.tube_end_m, error);
  }
  if (status == CAVUM_OK) status = append_end(builder, &right, error);
  if (status == CAVUM_OK) status = append_wall(builder, &right, error);
  if (status != CAVUM_OK) return status;
  if (whole) {
    status = append_wall(builder, &left, error);
    if (status == CAVUM_OK) status = append_end(builder, &left, error);
    if (status != CAVUM_OK) return status;
  } else {
    status = append_equator_plane(builder, cell->right.equator_radius_m, error);
    if (status != CAVUM_OK) return status;
  }
  return status;
}
