// SPDX-License-Identifier: GPL-3.0-or-later
// A cubic between two ends with given directions, as near as its two free lengths allow.
#include "contour/cubic_fit.h"

#include <math.h>

#include "base/base.h"

// Gauss-Newton from lengths that are right to the third power, feet from parameters likewise.
enum { ROUNDS = 4, FOOT_STEPS = 3 };
// Where both lengths do about the same, or nothing, they stay near to where they began.
static const double DAMPING = 1e-9;

/** Lengths of the tangents at both ends, a third of the derivatives there. */
typedef struct tangents {
  double start_m, end_m;
} tangents;

// The lengths of a piece that is short enough change by its square; those of a nearly straight one
// do nothing, and need not change.
static bool is_near(double length_m, double first_m) {
  return length_m > 0.5 * first_m && length_m < 2.0 * first_m;
}

static double dot(cavum_point a, cavum_point b) { return a.z_m * b.z_m + a.r_m * b.r_m; }

static cavum_point ahead(cavum_point from, cavum_point along, double length_m) {
  return (cavum_point){from.z_m + length_m * along.z_m, from.r_m + length_m * along.r_m};
}

// From its control points [deBoor1978].
static void set_cubic(cavum_curve *cubic, const cavum_cubic_aim *aim, tangents length) {
  cavum_point a = aim->start, d = aim->end, b = ahead(a, aim->from_start, length.start_m),
              c = ahead(d, aim->to_end, -length.end_m);
  cubic->kind = CAVUM_CURVE_CUBIC;
  cubic->start = a;
  cubic->end = d;
  cubic->cubic[0] = a;
  cubic->cubic[1] = (cavum_point){3.0 * (b.z_m - a.z_m), 3.0 * (b.r_m - a.r_m)};
  cubic->cubic[2] =
      (cavum_point){3.0 * (a.z_m - 2.0 * b.z_m + c.z_m), 3.0 * (a.r_m - 2.0 * b.r_m + c.r_m)};
  cubic->cubic[3] =
      (cavum_point){d.z_m - a.z_m + 3.0 * (b.z_m - c.z_m), d.r_m - a.r_m + 3.0 * (b.r_m - c.r_m)};
}

// Moves u to the foot of a point; gives its distance to the right of the cubic, and across.
static double find_foot(double *u, cavum_point *across, const cavum_curve *cubic,
                        cavum_point point) {
  for (int i = 0; i < FOOT_STEPS; i++) {
    cavum_point at = cavum_curve_point(cubic, *u), along = cavum_curve_derivative(cubic, *u);
    cavum_point miss = {point.z_m - at.z_m, point.r_m - at.r_m};
    *u = cavum_min(1.0, cavum_max(0.0, *u + dot(miss, along) / dot(along, along)));
  }
  cavum_point at = cavum_curve_point(cubic, *u), along = cavum_curve_derivative(cubic, *u);
  double speed = hypot(along.z_m, along.r_m);
  *across = (cavum_point){along.r_m / speed, -along.z_m / speed};
  return dot((cavum_point){point.z_m - at.z_m, point.r_m - at.r_m}, *across);
}

/** Sums of the least squares in both lengths. */
typedef struct sums {
  double aa, ab, bb, a, b, largest_m;
} sums;

static sums sum_distances(double *u, const cavum_curve *cubic, const cavum_cubic_aim *aim) {
  sums s = {0};
  for (int i = 0; i < CAVUM_CUBIC_FIT_POINTS; i++) {
    cavum_point across;
    double miss_m = find_foot(&u[i], &across, cubic, aim->between[i]), t = u[i];
    double by_start = 3.0 * (1.0 - t) * (1.0 - t) * t * dot(aim->from_start, across);
    double by_end = -3.0 * (1.0 - t) * t * t * dot(aim->to_end, across);
    s.aa += by_start * by_start;
    s.ab += by_start * by_end;
    s.bb += by_end * by_end;
    s.a += by_start * miss_m;
    s.b += by_end * miss_m;
    s.largest_m = cavum_max(s.largest_m, fabs(miss_m));
  }
  return s;
}

double cavum_cubic_fit(cavum_curve *cubic, const cavum_cubic_aim *aim) {
  tangents length = {aim->length_start_m / 3.0, aim->length_end_m / 3.0};
  const tangents first = length;
  double u[CAVUM_CUBIC_FIT_POINTS], best_m = INFINITY;
  cavum_curve tried = *cubic;
  for (int i = 0; i < CAVUM_CUBIC_FIT_POINTS; i++) u[i] = (i + 1.0) / (CAVUM_CUBIC_FIT_POINTS + 1);
  for (int round = 0; round <= ROUNDS; round++) {
    set_cubic(&tried, aim, length);
    sums s = sum_distances(u, &tried, aim);
    if (!(s.largest_m < best_m)) break;
    best_m = s.largest_m;
    *cubic = tried;
    double more = DAMPING * (s.aa + s.bb),
           determinant = (s.aa + more) * (s.bb + more) - s.ab * s.ab;
    if (!(determinant > 0.0)) break;
    length.start_m += ((s.bb + more) * s.a - s.ab * s.b) / determinant;
    length.end_m += ((s.aa + more) * s.b - s.ab * s.a) / determinant;
    if (!is_near(length.start_m, first.start_m) || !is_near(length.end_m, first.end_m)) break;
  }
  return best_m;
}
