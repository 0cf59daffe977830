// SPDX-License-Identifier: GPL-3.0-or-later
// Mirror symmetry of a closed contour. The mirror turns the order of travel round, so with n curves
// it takes place p to place c - p (modulo 2 n) for one c: c is found from the image of the first
// junction, and then every curve is compared with its partner.
#include "contour/mirror.h"

#include <stdio.h>

#include "base/base.h"
#include "contour/check.h"
#include "contour/curve.h"
#include "contour/parallel.h"

// Lengths closer than this part of the contour's size are equal: what rounding leaves of numbers in
// a file.
static const double SAME_LENGTH = 1e-12;
// Between the ends of cubics: where a fit hardly knows how fast one is run along, two fits of the
// same wall run at speeds that differ by more than rounding, along the same curve to within 0.1 nm.
static const double SAME_CUBIC = 1e-9;
// A corner on the plane that is re-entrant by less than this is a kink that corner.c ignores too.
static const double KINK_RAD = CAVUM_PI / 180.0;
// Halves of what check.c accepts must be acceptable as well.
static const double ROOM_FOR_HALVES = 4.0;

typedef struct matcher {
  const cavum_contour *contour;
  double plane_m, tolerance_m, cubic_tolerance_m;
} matcher;

static cavum_index wrap(cavum_index place, cavum_index count) {
  cavum_index rest = place % count;
  return rest < 0 ? rest + count : rest;
}

static bool are_within(const matcher *m, cavum_point a, cavum_point b, double tolerance_m) {
  return fabs(a.z_m + b.z_m - 2.0 * m->plane_m) <= 2.0 * tolerance_m &&
         fabs(a.r_m - b.r_m) <= tolerance_m;
}

static bool are_images(const matcher *m, cavum_point a, cavum_point b) {
  return are_within(m, a, b, m->tolerance_m);
}

// One curve run forwards against the other run backwards, at points that no two curves of one form
// share unless they are the same.
static bool are_image_curves(const matcher *m, const cavum_curve *a, const cavum_curve *b) {
  enum { PIECES = 4 };
  if (a->kind != b->kind || a->boundary != b->boundary) return false;
  for (int i = 0; i <= PIECES; i++) {
    double t = (double)i / PIECES;
    bool of_fit = a->kind == CAVUM_CURVE_CUBIC && i > 0 && i < PIECES;
    double tolerance_m = of_fit ? m->cubic_tolerance_m : m->tolerance_m;
    if (!are_within(m, cavum_curve_point(a, t), cavum_curve_point(b, 1.0 - t), tolerance_m)) {
      return false;
    }
  }
  return true;
}

// Junctions are mirrored onto junctions, so the plane is in the middle of their extent.
static double find_plane(const cavum_contour *contour, double tolerance_m) {
  double middle = cavum_contour_middle_m(contour);
  return fabs(middle) <= tolerance_m ? 0.0 : middle;
}

// The junction that is the image of the first one, or -1.
static cavum_index find_image_of_first(const matcher *m) {
  const cavum_contour *contour = m->contour;
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    if (are_images(m, contour->curves[0].start, contour->curves[i].start)) return i;
  }
  return -1;
}

static cavum_point point_at(const cavum_contour *contour, cavum_index place) {
  return cavum_curve_point(&contour->curves[place / 2], place % 2 ? 0.5 : 0.0);
}

// Whether the contour can be cut at a place. `d` points along travel at the right of the plane: up
// at the lower place, or up to the upper one, where the half has an angle of less than 90 degrees.
static bool can_cut(const cavum_contour *contour, cavum_index place, bool is_lower, double size_m) {
  cavum_index at = place / 2;
  const cavum_curve *curve = &contour->curves[at];
  if (place % 2) {
    double span_m = hypot(curve->end.z_m - curve->start.z_m, curve->end.r_m - curve->start.r_m);
    return span_m >= ROOM_FOR_HALVES * CAVUM_CONTOUR_SMALLEST_PIECE * size_m;
  }
  if (!is_lower) curve = &contour->curves[wrap(at - 1, contour->num_curves)];
  cavum_point d = cavum_curve_derivative(curve, is_lower ? 0.0 : 1.0);
  double beyond_rad = atan2(-d.r_m, fabs(d.z_m));  // of a right angle
  return beyond_rad <= KINK_RAD &&
         0.5 * CAVUM_PI + beyond_rad >= ROOM_FOR_HALVES * CAVUM_CONTOUR_SMALLEST_ANGLE_RAD;
}

bool cavum_contour_find_mirror(cavum_contour_mirror *mirror, const cavum_contour *contour) {
  cavum_index n = contour->num_curves;
  if (n < 2) return false;
  double size_m = cavum_contour_size_m(contour);
  matcher m = {.contour = contour,
               .tolerance_m = SAME_LENGTH * size_m,
               .cubic_tolerance_m = SAME_CUBIC * size_m};
  m.plane_m = find_plane(contour, m.tolerance_m);
  cavum_index image = find_image_of_first(&m);
  if (image < 0) return false;
  for (cavum_index i = 0; i < n; i++) {
    cavum_index partner = wrap(image - 1 - i, n);
    if (partner < i) continue;  // it was compared with this one
    if (!are_image_curves(&m, &contour->curves[i], &contour->curves[partner])) return false;
  }
  // Fixed places: p = 2 image - p modulo 2 n.
  cavum_contour_mirror found = {m.plane_m, image, wrap(image + n, 2 * n)};
  double lower_m = point_at(contour, found.lower).r_m, upper_m = point_at(contour, found.upper).r_m;
  if (lower_m > upper_m) {
    cavum_contour_mirror turned = {m.plane_m, found.upper, found.lower};
    found = turned;
  }
  if (fabs(upper_m - lower_m) < ROOM_FOR_HALVES * CAVUM_CONTOUR_SMALLEST_PIECE * size_m ||
      !can_cut(contour, found.lower, true, size_m) ||
      !can_cut(contour, found.upper, false, size_m)) {
    return false;
  }
  *mirror = found;
  return true;
}

// t = u / 2 for the first half, t = (1 + u) / 2 for the second: the binomials of (1 + u)^k.
static void halve_cubic(cavum_point c[4], bool second) {
  for (int k = 0; k < 4; k++) {
    c[k].z_m = ldexp(c[k].z_m, -k);
    c[k].r_m = ldexp(c[k].r_m, -k);
  }
  if (!second) return;
  cavum_point a = c[0];
  c[0] =
      (cavum_point){a.z_m + c[1].z_m + c[2].z_m + c[3].z_m, a.r_m + c[1].r_m + c[2].r_m + c[3].r_m};
  c[1].z_m += 2.0 * c[2].z_m + 3.0 * c[3].z_m;
  c[1].r_m += 2.0 * c[2].r_m + 3.0 * c[3].r_m;
  c[2].z_m += 3.0 * c[3].z_m;
  c[2].r_m += 3.0 * c[3].r_m;
}

// The second or the first half of a curve; its new end is put on the plane.
static cavum_curve halve(const cavum_curve *curve, bool second, double plane_m) {
  cavum_curve half = *curve;
  cavum_point middle = {plane_m, cavum_curve_point(curve, 0.5).r_m};
  double middle_rad = 0.5 * (curve->angle_start_rad + curve->angle_end_rad);
  if (cavum_curve_is_of_cubic(curve)) halve_cubic(half.cubic, second);
  *(second ? &half.start : &half.end) = middle;
  if (cavum_curve_is_of_ellipse(curve)) {
    *(second ? &half.angle_start_rad : &half.angle_end_rad) = middle_rad;
  }
  return half;
}

static cavum_status append(cavum_contour_builder *builder, const cavum_curve *curve,
                           cavum_index number, cavum_error *error) {
  char label[CAVUM_LABEL_SIZE];
  snprintf(label, sizeof label, "piece %d", (int)number + 1);
  return cavum_contour_builder_append(builder, curve, label, error);
}

cavum_status cavum_contour_cut_half(cavum_contour_builder *builder, const cavum_contour *contour,
                                    const cavum_contour_mirror *mirror, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_index n = contour->num_curves;
  cavum_point foot = {mirror->plane_m, point_at(contour, mirror->lower).r_m};
  cavum_point top = {mirror->plane_m, point_at(contour, mirror->upper).r_m};
  cavum_index at = mirror->lower / 2, last = wrap(mirror->upper - 1, 2 * n) / 2;
  for (bool first = true;; first = false, at = wrap(at + 1, n)) {
    cavum_curve curve = contour->curves[at];
    if (first && mirror->lower % 2) curve = halve(&curve, true, mirror->plane_m);
    if (at == last && mirror->upper % 2) curve = halve(&curve, false, mirror->plane_m);
    if (first) curve.start = foot;
    if (at == last) curve.end = top;
    status = append(builder, &curve, at, error);
    if (status != CAVUM_OK) return status;
    if (at == last) break;
  }
  cavum_curve plane = cavum_curve_make_line(top, foot, CAVUM_BOUNDARY_SYMMETRY);
  return cavum_contour_builder_append(builder, &plane, "mirror plane", error);
}
