// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesh_shapes.h
 * Contours for tests, drawn piece by piece in millimetres, inside on the left of travel.
 */
#ifndef CAVUM_TEST_MESH_SHAPES_H
#define CAVUM_TEST_MESH_SHAPES_H

#include "cavum/cell.h"
#include "support.h"

enum { CAVUM_PEN_MOST = 64 };

/** A contour under construction; curves are stored in place, nothing is owned. */
typedef struct cavum_pen {
  cavum_curve curves[CAVUM_PEN_MOST];
  cavum_index count;
  cavum_point at;
} cavum_pen;

static inline cavum_point pen_point(double z_mm, double r_mm) {
  return (cavum_point){1e-3 * z_mm, 1e-3 * r_mm};
}

static inline cavum_pen pen_start(double z_mm, double r_mm) {
  return (cavum_pen){.at = pen_point(z_mm, r_mm)};
}

static inline void pen_line(cavum_pen *pen, double z_mm, double r_mm, cavum_boundary boundary) {
  ck_assert_int_lt(pen->count, CAVUM_PEN_MOST);
  cavum_point end = pen_point(z_mm, r_mm);
  pen->curves[pen->count++] =
      (cavum_curve){.kind = CAVUM_CURVE_LINE, .boundary = boundary, .start = pen->at, .end = end};
  pen->at = end;
}

/** Arc of an axis-parallel ellipse from here through `turn_deg` degrees of eccentric angle. */
static inline void pen_ellipse(cavum_pen *pen, double centre_z_mm, double centre_r_mm,
                               double axial_mm, double radial_mm, double from_deg, double turn_deg,
                               cavum_boundary boundary) {
  ck_assert_int_lt(pen->count, CAVUM_PEN_MOST);
  double pi = acos(-1.0), a0 = from_deg * pi / 180.0, a1 = (from_deg + turn_deg) * pi / 180.0;
  cavum_point end = pen_point(centre_z_mm + axial_mm * cos(a1), centre_r_mm + radial_mm * sin(a1));
  if (fabs(end.r_m) < 1e-12) end.r_m = 0.0;
  pen->curves[pen->count++] = (cavum_curve){.kind = CAVUM_CURVE_ELLIPSE,
                                            .boundary = boundary,
                                            .start = pen->at,
                                            .end = end,
                                            .centre = pen_point(centre_z_mm, centre_r_mm),
                                            .axial_m = 1e-3 * axial_mm,
                                            .radial_m = 1e-3 * radial_mm,
                                            .angle_start_rad = a0,
                                            .angle_end_rad = a1};
  pen->at = end;
}

/** Bezier span with inner control points b and c to the end point d. */
static inline void pen_cubic(cavum_pen *pen, double bz, double br, double cz, double cr, double dz,
                             double dr, cavum_boundary boundary) {
  ck_assert_int_lt(pen->count, CAVUM_PEN_MOST);
  cavum_point a = pen->at, b = pen_point(bz, br), c = pen_point(cz, cr), d = pen_point(dz, dr);
  cavum_curve *curve = &pen->curves[pen->count++];
  *curve = (cavum_curve){.kind = CAVUM_CURVE_CUBIC, .boundary = boundary, .start = a, .end = d};
  curve->cubic[0] = a;
  curve->cubic[1] = (cavum_point){3.0 * (b.z_m - a.z_m), 3.0 * (b.r_m - a.r_m)};
  curve->cubic[2] =
      (cavum_point){3.0 * (a.z_m - 2.0 * b.z_m + c.z_m), 3.0 * (a.r_m - 2.0 * b.r_m + c.r_m)};
  curve->cubic[3] =
      (cavum_point){d.z_m - a.z_m + 3.0 * (b.z_m - c.z_m), d.r_m - a.r_m + 3.0 * (b.r_m - c.r_m)};
  pen->at = d;
}

/** The drawn contour, borrowed from the pen; checks that it is closed. */
static inline cavum_contour pen_contour(cavum_pen *pen) {
  cavum_point first = pen->curves[0].start;
  ck_assert_double_lt(hypot(pen->at.z_m - first.z_m, pen->at.r_m - first.r_m), 1e-9);
  pen->curves[pen->count - 1].end = first;
  return (cavum_contour){pen->count, pen->curves};
}

/** Mirror image about z = 0: curves in reverse order, each run backwards. */
static inline void pen_mirror(cavum_pen *image, const cavum_contour *contour) {
  double pi = acos(-1.0);
  ck_assert_int_le(contour->num_curves, CAVUM_PEN_MOST);
  image->count = contour->num_curves;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    cavum_curve *out = &image->curves[i];
    const cavum_curve *in = &contour->curves[contour->num_curves - 1 - i];
    *out = *in;
    out->start = (cavum_point){-in->end.z_m, in->end.r_m};
    out->end = (cavum_point){-in->start.z_m, in->start.r_m};
    out->centre.z_m = -in->centre.z_m;
    out->angle_start_rad = pi - in->angle_end_rad;
    out->angle_end_rad = pi - in->angle_start_rad;
    // p(1 - t) = c0 + c1 (1 - t) + c2 (1 - t)^2 + c3 (1 - t)^3, expanded
    const cavum_point *c = in->cubic;
    double z[4] = {c[0].z_m + c[1].z_m + c[2].z_m + c[3].z_m,
                   -c[1].z_m - 2.0 * c[2].z_m - 3.0 * c[3].z_m, c[2].z_m + 3.0 * c[3].z_m,
                   -c[3].z_m};
    double r[4] = {c[0].r_m + c[1].r_m + c[2].r_m + c[3].r_m,
                   -c[1].r_m - 2.0 * c[2].r_m - 3.0 * c[3].r_m, c[2].r_m + 3.0 * c[3].r_m,
                   -c[3].r_m};
    for (int k = 0; k < 4; k++) out->cubic[k] = (cavum_point){-z[k], r[k]};
  }
  image->at = image->curves[image->count - 1].end;
}

#endif
