// SPDX-License-Identifier: GPL-3.0-or-later
// Cutting curves into subcurves. A cubic is first cut where it runs along z or r and at its
// inflections: between these cuts its direction stays in one quadrant and turns one way, so the
// angle between the end directions is all of its turn. An ellipse turns one way anyhow. A parallel
// has the directions of its base at the same parameter, stretched: the same cuts.
#include "contour/subcurve.h"

#include "base/base.h"
#include "contour/parallel.h"

static const double LARGEST_TURN_RAD = 0.25 * CAVUM_PI;
// A smooth curve needs few halvings; one that still turns this far into them has a cusp.
enum { LARGEST_DEPTH = 40 };
// 2 + 2 axis-parallel points, 2 inflections, the two ends, the middle; 8 pieces of an ellipse.
enum { LARGEST_CUTS = 9, LARGEST_PIECES = LARGEST_CUTS - 1 };
// Cuts of a cubic are this far apart in t. One that is left out costs nothing: over so short a part
// the direction is the same to 1e-8 at an inflection, and may pass the quadrant by as little.
static const double SMALLEST_CUT = 1e-4;

// Of a parallel: the largest of some points, with a margin for what is between them.
static double sampled_second_derivative(const cavum_curve *curve, double t0, double t1) {
  enum { SAMPLES = 4 };
  const double margin = 1.5;
  double largest = 0.0;
  for (int i = 0; i <= SAMPLES; i++) {
    cavum_point at = cavum_curve_second_derivative(curve, t0 + i * (t1 - t0) / SAMPLES);
    largest = cavum_max(largest, hypot(at.z_m, at.r_m));
  }
  return margin * largest;
}

static double bound_of_second_derivative(const cavum_curve *curve, double t0, double t1) {
  if (curve->kind == CAVUM_CURVE_LINE) return 0.0;
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    return sweep * sweep * cavum_max(curve->axial_m, curve->radial_m);
  }
  if (cavum_curve_is_parallel(curve)) return sampled_second_derivative(curve, t0, t1);
  // Linear in t for a cubic, so its norm is largest at an end.
  cavum_point a = cavum_curve_second_derivative(curve, t0);
  cavum_point b = cavum_curve_second_derivative(curve, t1);
  return cavum_max(hypot(a.z_m, a.r_m), hypot(b.z_m, b.r_m));
}

cavum_subcurve cavum_subcurve_make(const cavum_curve *curve, cavum_index curve_index, double t0,
                                   double t1) {
  cavum_subcurve subcurve = {.curve = curve, .curve_index = curve_index, .t0 = t0, .t1 = t1};
  subcurve.first = cavum_curve_point(curve, t0);
  subcurve.last = cavum_curve_point(curve, t1);
  subcurve.sag_m = bound_of_second_derivative(curve, t0, t1) * (t1 - t0) * (t1 - t0) / 8.0;
  return subcurve;
}

double cavum_subcurve_angle_rad(cavum_point first, cavum_point second) {
  double cross = first.z_m * second.r_m - first.r_m * second.z_m;
  double dot = first.z_m * second.z_m + first.r_m * second.r_m;
  if (cross == 0.0 && dot == 0.0) return 0.0;  // atan2 would give pi for a negative zero
  return fabs(atan2(cross, dot));
}

double cavum_subcurve_turn_rad(const cavum_subcurve *subcurve) {
  if (subcurve->curve->kind == CAVUM_CURVE_LINE) return 0.0;
  return cavum_subcurve_angle_rad(cavum_curve_derivative(subcurve->curve, subcurve->t0),
                                  cavum_curve_derivative(subcurve->curve, subcurve->t1));
}

int cavum_subcurve_roots(double roots[2], double a, double b, double c) {
  double discriminant = b * b - 4.0 * a * c;
  if (!(discriminant >= 0.0)) return 0;
  double q = -0.5 * (b + copysign(sqrt(discriminant), b));
  double candidates[2] = {a != 0.0 ? q / a : -1.0, q != 0.0 ? c / q : -1.0};
  int count = 0;
  for (int i = 0; i < 2; i++) {
    if (candidates[i] > 0.0 && candidates[i] < 1.0) roots[count++] = candidates[i];
  }
  return count;
}

static double cross_product(cavum_point a, cavum_point b) { return a.z_m * b.r_m - a.r_m * b.z_m; }

/** Cuts of a cubic, ends included, ascending. The middle is one, so that there are two pieces. */
static int cut_cubic(double *cuts, const cavum_curve *curve) {
  const cavum_point *c = curve->cubic;
  int count = 0;
  cuts[count++] = 0.0;
  cuts[count++] = 1.0;
  cuts[count++] = 0.5;
  count += cavum_subcurve_roots(cuts + count, 3.0 * c[3].z_m, 2.0 * c[2].z_m, c[1].z_m);
  count += cavum_subcurve_roots(cuts + count, 3.0 * c[3].r_m, 2.0 * c[2].r_m, c[1].r_m);
  // c' x c'' = 2 (c1 x c2) + 6 (c1 x c3) t + 6 (c2 x c3) t^2.
  count += cavum_subcurve_roots(cuts + count, 6.0 * cross_product(c[2], c[3]),
                                6.0 * cross_product(c[1], c[3]), 2.0 * cross_product(c[1], c[2]));
  for (int i = 1; i < count; i++) {
    double cut = cuts[i];
    int j = i;
    for (; j > 0 && cuts[j - 1] > cut; j--) cuts[j] = cuts[j - 1];
    cuts[j] = cut;
  }
  int kept = 1;
  for (int i = 1; i < count; i++) {
    bool last = i == count - 1;
    if (last && kept > 1 && cuts[i] - cuts[kept - 1] < SMALLEST_CUT) kept--;
    if (last || cuts[i] - cuts[kept - 1] >= SMALLEST_CUT) cuts[kept++] = cuts[i];
  }
  return kept;
}

/** Cuts of an ellipse at equal steps of at most pi/4 of the eccentric angle, at least two pieces.
 */
static int cut_ellipse(double *cuts, const cavum_curve *curve) {
  double sweep = fabs(curve->angle_end_rad - curve->angle_start_rad);
  int pieces = (int)cavum_min(LARGEST_PIECES, cavum_max(2.0, ceil(sweep / LARGEST_TURN_RAD)));
  for (int i = 0; i <= pieces; i++) cuts[i] = i == pieces ? 1.0 : (double)i / pieces;
  return pieces + 1;
}

/** Appends the part between two cuts, halved until it turns little enough. */
static cavum_status append_part(cavum_subcurve_list *list, const cavum_curve *curve,
                                cavum_index index, double t0, double t1, int depth) {
  cavum_subcurve subcurve = cavum_subcurve_make(curve, index, t0, t1);
  if (cavum_subcurve_turn_rad(&subcurve) > LARGEST_TURN_RAD) {
    if (depth == 0) return CAVUM_ERR_GEOMETRY;
    double middle = 0.5 * (t0 + t1);
    cavum_status status = append_part(list, curve, index, t0, middle, depth - 1);
    if (status != CAVUM_OK) return status;
    return append_part(list, curve, index, middle, t1, depth - 1);
  }
  void *subcurves = list->subcurves;
  bool grown =
      cavum_grow(&subcurves, &list->capacity, (int64_t)list->num_subcurves + 1, sizeof subcurve);
  list->subcurves = subcurves;
  if (!grown) return CAVUM_ERR_MEMORY;
  list->subcurves[list->num_subcurves++] = subcurve;
  return CAVUM_OK;
}

cavum_status cavum_subcurve_cut_contour(cavum_subcurve_list *list, const cavum_contour *contour,
                                        cavum_index *culprit) {
  for (cavum_index i = 0; i < contour->num_curves; i++) {
    const cavum_curve *curve = &contour->curves[i];
    double cuts[LARGEST_CUTS] = {0.0, 1.0};
    int count = 2;
    if (cavum_curve_is_of_ellipse(curve)) count = cut_ellipse(cuts, curve);
    if (cavum_curve_is_of_cubic(curve)) count = cut_cubic(cuts, curve);
    for (int k = 0; k + 1 < count; k++) {
      cavum_status status = append_part(list, curve, i, cuts[k], cuts[k + 1], LARGEST_DEPTH);
      if (status == CAVUM_OK) continue;
      *culprit = i;
      return status;
    }
  }
  return CAVUM_OK;
}
