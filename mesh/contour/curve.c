// SPDX-License-Identifier: GPL-3.0-or-later
// Points, derivatives and arc length of one exact curve. Ends are handed out as stored, so that
// neighbouring curves meet in the same bits; everything between follows the formula of the kind.
#include <math.h>

#include "base/base.h"
#include "cavum/contour.h"

// Abscissae and weights of the 16-point Gauss-Legendre rule on [-1, 1], positive half.
enum { HALF_RULE = 8 };
static const double gauss_abscissa[HALF_RULE] = {
    0.095012509837637441, 0.28160355077925892, 0.45801677765722737, 0.61787624440264377,
    0.755404408355003,    0.86563120238783176, 0.9445750230732326,  0.98940093499164994};
static const double gauss_weight[HALF_RULE] = {
    0.1894506104550685,  0.18260341504492358,  0.16915651939500254,  0.14959598881657674,
    0.12462897125553388, 0.095158511682492786, 0.062253523938647894, 0.027152459411754096};

// Halves whose sum agrees with the whole to this fraction of the length are good enough: the sum
// is then itself far better, since a 16-point rule gains 2^32 from one halving of a smooth speed.
static const double length_tolerance = 1e-14;
// A cusp of a cubic is approached by halving; 2^-50 of the interval no longer counts.
enum { LENGTH_DEPTH = 50 };

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
  } else {
    const cavum_point *c = curve->cubic;
    derivative.z_m = (3.0 * c[3].z_m * t + 2.0 * c[2].z_m) * t + c[1].z_m;
    derivative.r_m = (3.0 * c[3].r_m * t + 2.0 * c[2].r_m) * t + c[1].r_m;
  }
  return derivative;
}

cavum_point cavum_curve_point(const cavum_curve *curve, double t) {
  return point_at(curve, t, turn_at(curve, t));
}

cavum_point cavum_curve_derivative(const cavum_curve *curve, double t) {
  return derivative_at(curve, t, turn_at(curve, t));
}

void cavum_curve_at(cavum_point *point, cavum_point *derivative, const cavum_curve *curve,
                    double t) {
  turn at = turn_at(curve, t);
  *point = point_at(curve, t, at);
  *derivative = derivative_at(curve, t, at);
}

cavum_point cavum_curve_second_derivative(const cavum_curve *curve, double t) {
  cavum_point second = {0.0, 0.0};
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    double angle = eccentric_angle(curve, t);
    double sweep = curve->angle_end_rad - curve->angle_start_rad;
    second.z_m = -sweep * sweep * curve->axial_m * cos(angle);
    second.r_m = -sweep * sweep * curve->radial_m * sin(angle);
  } else if (curve->kind == CAVUM_CURVE_CUBIC) {
    const cavum_point *c = curve->cubic;
    second.z_m = 6.0 * c[3].z_m * t + 2.0 * c[2].z_m;
    second.r_m = 6.0 * c[3].r_m * t + 2.0 * c[2].r_m;
  }
  return second;
}

static double speed(const cavum_curve *curve, double t) {
  cavum_point derivative = cavum_curve_derivative(curve, t);
  return hypot(derivative.z_m, derivative.r_m);
}

static double gauss_length(const cavum_curve *curve, double t0, double t1) {
  double middle = 0.5 * (t0 + t1), half = 0.5 * (t1 - t0), sum = 0.0;
  for (int i = 0; i < HALF_RULE; i++) {
    double offset = half * gauss_abscissa[i];
    sum += gauss_weight[i] * (speed(curve, middle - offset) + speed(curve, middle + offset));
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
  bool constant_speed = curve->kind == CAVUM_CURVE_LINE ||
                        (curve->kind == CAVUM_CURVE_ELLIPSE && curve->axial_m == curve->radial_m);
  if (constant_speed) return (t1 - t0) * speed(curve, 0.0);
  double whole = gauss_length(curve, t0, t1);
  return adaptive_length(curve, t0, t1, whole, length_tolerance * whole, LENGTH_DEPTH);
}
