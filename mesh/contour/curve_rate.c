// SPDX-License-Identifier: GPL-3.0-or-later
// Derivatives of the points of a curve by the numbers of the curve.
#include "contour/curve_rate.h"

#include <math.h>
#include <stdint.h>
#include <string.h>

#include "base/fast.h"
#include "contour/parallel.h"

// Angle at t, what it turns through, and their rates.
typedef struct arc_place {
  double cosine, sine, sweep;
} arc_place;

static arc_place place_on(const cavum_curve *curve, double t) {
  double sweep = curve->angle_end_rad - curve->angle_start_rad;
  double angle = curve->angle_start_rad + t * sweep;
  return (arc_place){cos(angle), sin(angle), sweep};
}

static void line_at(cavum_point *point, cavum_point *slope, const cavum_curve_rate *rate,
                    double t) {
  *slope = (cavum_point){rate->end.z_m - rate->start.z_m, rate->end.r_m - rate->start.r_m};
  *point = (cavum_point){rate->start.z_m + t * slope->z_m, rate->start.r_m + t * slope->r_m};
}

static void arc_at(cavum_point *point, cavum_point *slope, const cavum_curve *curve,
                   const cavum_curve_rate *rate, double t) {
  arc_place at = place_on(curve, t);
  double sweep_rate = rate->angle_end_rad - rate->angle_start_rad;
  double angle_rate = rate->angle_start_rad + t * sweep_rate;
  double a = curve->axial_m, b = curve->radial_m;
  point->z_m = rate->centre.z_m + rate->axial_m * at.cosine - a * at.sine * angle_rate;
  point->r_m = rate->centre.r_m + rate->radial_m * at.sine + b * at.cosine * angle_rate;
  slope->z_m =
      -sweep_rate * a * at.sine - at.sweep * (rate->axial_m * at.sine + a * at.cosine * angle_rate);
  slope->r_m = sweep_rate * b * at.cosine +
               at.sweep * (rate->radial_m * at.cosine - b * at.sine * angle_rate);
}

static void cubic_at(cavum_point *point, cavum_point *slope, const cavum_curve_rate *rate,
                     double t) {
  const cavum_point *c = rate->cubic;
  point->z_m = ((c[3].z_m * t + c[2].z_m) * t + c[1].z_m) * t + c[0].z_m;
  point->r_m = ((c[3].r_m * t + c[2].r_m) * t + c[1].r_m) * t + c[0].r_m;
  slope->z_m = (3.0 * c[3].z_m * t + 2.0 * c[2].z_m) * t + c[1].z_m;
  slope->r_m = (3.0 * c[3].r_m * t + 2.0 * c[2].r_m) * t + c[1].r_m;
}

void cavum_curve_rate_at(cavum_point *point, cavum_point *slope, const cavum_curve *curve,
                         const cavum_curve_rate *rate, double t) {
  if (curve->kind == CAVUM_CURVE_LINE) {
    line_at(point, slope, rate, t);
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    arc_at(point, slope, curve, rate, t);
  } else if (cavum_curve_is_parallel(curve)) {
    cavum_parallel_place by = cavum_parallel_rate_at(curve, rate, t);
    *point = by.point;
    *slope = by.first;
  } else {
    cubic_at(point, slope, rate, t);
  }
}

bool cavum_curve_rate_moves(const cavum_curve_rate *rate) {
  enum { NUMBERS = sizeof *rate / sizeof(uint64_t) };
  uint64_t bits[NUMBERS], any = 0;
  _Static_assert(sizeof(double) == sizeof(uint64_t), "a number and its bits");
  memcpy(bits, rate, sizeof bits);
  for (int j = 0; j < NUMBERS; j++) any |= bits[j] << 1;  // a zero may be negative
  return any != 0;
}

cavum_curve_place cavum_curve_place_at(const cavum_curve *curve, double t) {
  if (curve->kind != CAVUM_CURVE_ELLIPSE) return (cavum_curve_place){.t = t};
  arc_place at = place_on(curve, t);
  return (cavum_curve_place){t, at.cosine, at.sine};
}

static void add_arc(cavum_curve_rate *gradient, const cavum_curve *curve,
                    const cavum_curve_place *place, cavum_point p, cavum_point s) {
  double sweep = curve->angle_end_rad - curve->angle_start_rad, t = place->t;
  arc_place at = {place->cosine, place->sine, sweep};
  double a = curve->axial_m, b = curve->radial_m;
  double by_angle = -a * at.sine * p.z_m + b * at.cosine * p.r_m -
                    at.sweep * (a * at.cosine * s.z_m + b * at.sine * s.r_m);
  double by_sweep = -a * at.sine * s.z_m + b * at.cosine * s.r_m;
  gradient->centre.z_m += p.z_m;
  gradient->centre.r_m += p.r_m;
  gradient->axial_m += at.cosine * p.z_m - at.sweep * at.sine * s.z_m;
  gradient->radial_m += at.sine * p.r_m + at.sweep * at.cosine * s.r_m;
  gradient->angle_start_rad += (1.0 - t) * by_angle - by_sweep;
  gradient->angle_end_rad += t * by_angle + by_sweep;
}

void cavum_curve_rate_add(cavum_curve_rate *gradient, const cavum_curve *curve,
                          const cavum_curve_place *place, cavum_point by_point,
                          cavum_point by_slope) {
  cavum_point p = by_point, s = by_slope;
  double t = place->t;
  if (curve->kind == CAVUM_CURVE_LINE) {
    gradient->start.z_m += (1.0 - t) * p.z_m - s.z_m;
    gradient->start.r_m += (1.0 - t) * p.r_m - s.r_m;
    gradient->end.z_m += t * p.z_m + s.z_m;
    gradient->end.r_m += t * p.r_m + s.r_m;
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    add_arc(gradient, curve, place, p, s);
  } else if (cavum_curve_is_parallel(curve)) {
    cavum_parallel_rate_add(gradient, curve, t, p, s);
  } else {
    double power = 1.0, slope = 0.0;  // t^k and its derivative
    for (int k = 0; k < 4; k++) {
      gradient->cubic[k].z_m += power * p.z_m + slope * s.z_m;
      gradient->cubic[k].r_m += power * p.r_m + slope * s.r_m;
      slope = (k + 1) * power;
      power *= t;
    }
  }
}

// The sums of sum_line() below, place by place.
static void add_line_points(cavum_curve_rate *gradient, int n, const cavum_curve_place *places,
                            const cavum_curve_point_gradient *by) {
  cavum_point start = {0}, end = {0};
  for (int i = 0; i < n; i++) {
    double t = places[i].t;
    start.z_m += (1.0 - t) * by[i].z - by[i].z_t;
    start.r_m += (1.0 - t) * by[i].r - by[i].r_t;
    end.z_m += t * by[i].z + by[i].z_t;
    end.r_m += t * by[i].r + by[i].r_t;
  }
  gradient->start.z_m += start.z_m;
  gradient->start.r_m += start.r_m;
  gradient->end.z_m += end.z_m;
  gradient->end.r_m += end.r_m;
}

static void add_arc_points(cavum_curve_rate *gradient, const cavum_curve *curve, int n,
                           const cavum_curve_place *places, const cavum_curve_point_gradient *by) {
  cavum_curve_rate sum = {0};
  for (int i = 0; i < n; i++) {
    add_arc(&sum, curve, &places[i], (cavum_point){by[i].z, by[i].r},
            (cavum_point){by[i].z_t, by[i].r_t});
  }
  gradient->centre.z_m += sum.centre.z_m;
  gradient->centre.r_m += sum.centre.r_m;
  gradient->axial_m += sum.axial_m;
  gradient->radial_m += sum.radial_m;
  gradient->angle_start_rad += sum.angle_start_rad;
  gradient->angle_end_rad += sum.angle_end_rad;
}

void cavum_curve_rate_add_points(cavum_curve_rate *gradient, const cavum_curve *curve, int n,
                                 const cavum_curve_place *places,
                                 const cavum_curve_point_gradient *by) {
  if (curve->kind == CAVUM_CURVE_LINE) {
    add_line_points(gradient, n, places, by);
  } else if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    add_arc_points(gradient, curve, n, places, by);
  } else {
    for (int i = 0; i < n; i++) {
      cavum_curve_rate_add(gradient, curve, &places[i], (cavum_point){by[i].z, by[i].r},
                           (cavum_point){by[i].z_t, by[i].r_t});
    }
  }
}

// Sums over all lanes.
static double over_lanes(const cavum_lanes *of) {
  double sum = 0.0;
  for (int l = 0; l < CAVUM_LANES; l++) sum += (*of)[l];
  return sum;
}

// Sums of derivatives, and of the same times t.
CAVUM_FAST static void sum_line(double sums[6], const cavum_curve_places *p, int vectors) {
  cavum_lanes all[6] = {{0}};
  for (int v = 0; v < vectors; v++) {
    all[0] += p->by_z[v];
    all[1] += p->by_r[v];
    all[2] += p->t[v] * p->by_z[v];
    all[3] += p->t[v] * p->by_r[v];
    all[4] += p->by_z_t[v];
    all[5] += p->by_r_t[v];
  }
  for (int i = 0; i < 6; i++) sums[i] = over_lanes(&all[i]);
}

static void add_line_many(cavum_curve_rate *gradient, const cavum_curve_places *p, int vectors) {
  double sums[6];
  sum_line(sums, p, vectors);
  gradient->start.z_m += sums[0] - sums[2] - sums[4];
  gradient->start.r_m += sums[1] - sums[3] - sums[5];
  gradient->end.z_m += sums[2] + sums[4];
  gradient->end.r_m += sums[3] + sums[5];
}

// Sums of the terms of add_arc(), of which those by the angle also times t.
CAVUM_FAST static void sum_arc(double sums[7], const cavum_curve *curve,
                               const cavum_curve_places *p, int vectors) {
  double sweep = curve->angle_end_rad - curve->angle_start_rad;
  double a = curve->axial_m, b = curve->radial_m;
  cavum_lanes all[7] = {{0}};
  for (int v = 0; v < vectors; v++) {
    cavum_lanes c = p->cosine[v], s = p->sine[v];
    cavum_lanes by_angle = b * c * p->by_r[v] - a * s * p->by_z[v] -
                           sweep * (a * c * p->by_z_t[v] + b * s * p->by_r_t[v]);
    all[0] += p->by_z[v];
    all[1] += p->by_r[v];
    all[2] += c * p->by_z[v] - sweep * s * p->by_z_t[v];
    all[3] += s * p->by_r[v] + sweep * c * p->by_r_t[v];
    all[4] += by_angle;
    all[5] += p->t[v] * by_angle;
    all[6] += b * c * p->by_r_t[v] - a * s * p->by_z_t[v];
  }
  for (int i = 0; i < 7; i++) sums[i] = over_lanes(&all[i]);
}

static void add_arc_many(cavum_curve_rate *gradient, const cavum_curve *curve,
                         const cavum_curve_places *p, int vectors) {
  double sums[7];
  sum_arc(sums, curve, p, vectors);
  gradient->centre.z_m += sums[0];
  gradient->centre.r_m += sums[1];
  gradient->axial_m += sums[2];
  gradient->radial_m += sums[3];
  gradient->angle_start_rad += sums[4] - sums[5] - sums[6];
  gradient->angle_end_rad += sums[5] + sums[6];
}

void cavum_curve_rate_add_many(cavum_curve_rate *gradient, const cavum_curve *curve,
                               const cavum_curve_places *places, int vectors) {
  if (curve->kind == CAVUM_CURVE_LINE) {
    add_line_many(gradient, places, vectors);
    return;
  }
  if (curve->kind == CAVUM_CURVE_ELLIPSE) {
    add_arc_many(gradient, curve, places, vectors);
    return;
  }
  for (int i = 0; i < vectors * CAVUM_LANES; i++) {
    int v = i / CAVUM_LANES, l = i % CAVUM_LANES;
    const cavum_curve_place place = {.t = places->t[v][l]};
    cavum_curve_rate_add(gradient, curve, &place,
                         (cavum_point){places->by_z[v][l], places->by_r[v][l]},
                         (cavum_point){places->by_z_t[v][l], places->by_r_t[v][l]});
  }
}

// In lanes, the sizes beside the sum; numbers that do not fill them up one by one.
CAVUM_FAST static void dot(double *restrict sum, double *restrict size, const double *restrict a,
                           const double *restrict b, int64_t count) {
  enum { HALF = CAVUM_LANES / 2 };
  typedef int64_t bits __attribute__((vector_size(HALF * sizeof(int64_t))));
  const bits all_but_sign = ~(bits){0} & INT64_MAX;
  cavum_half sums = {0}, sizes = {0};
  int64_t i = 0;
  for (; i + HALF <= count; i += HALF) {
    cavum_half product =
        *(const cavum_half_anywhere *)(a + i) * *(const cavum_half_anywhere *)(b + i);
    sums += product;
    sizes += (cavum_half)((bits)product & all_but_sign);
  }
  for (int l = 0; l < HALF; l++) {
    *sum += sums[l];
    *size += sizes[l];
  }
  for (; i < count; i++) {
    *sum += a[i] * b[i];
    *size += fabs(a[i] * b[i]);
  }
}

_Static_assert(sizeof(cavum_curve_rate) % sizeof(double) == 0, "rates are made of numbers alone");

double cavum_curve_rates_dot(double *size, const cavum_curve_rate *a, const cavum_curve_rate *b,
                             cavum_index count) {
  double sum = 0.0;
  *size = 0.0;
  dot(&sum, size, (const double *)a, (const double *)b,
      (int64_t)count * (int64_t)(sizeof *a / sizeof(double)));
  return sum;
}

// Rate of the eccentric angle of an end: the part of its velocity along the arc that centre and
// half axes leave.
static double angle_rate(const cavum_curve *arc, const cavum_curve_rate *rate, double angle,
                         cavum_point velocity) {
  double cosine = cos(angle), sine = sin(angle);
  double z = velocity.z_m - rate->centre.z_m - rate->axial_m * cosine;
  double r = velocity.r_m - rate->centre.r_m - rate->radial_m * sine;
  double along_z = -arc->axial_m * sine, along_r = arc->radial_m * cosine;
  return (z * along_z + r * along_r) / (along_z * along_z + along_r * along_r);
}

void cavum_curve_rate_set_angles(cavum_curve_rate *rate, const cavum_curve *arc) {
  rate->angle_start_rad = angle_rate(arc, rate, arc->angle_start_rad, rate->start);
  rate->angle_end_rad = angle_rate(arc, rate, arc->angle_end_rad, rate->end);
}

// Velocity of an end against the ellipse, in coordinates in which that is the unit circle.
static cavum_point against_circle(const cavum_curve *arc, const cavum_curve_rate *rate,
                                  double angle, cavum_point velocity) {
  return (cavum_point){
      (velocity.z_m - rate->centre.z_m - rate->axial_m * cos(angle)) / arc->axial_m,
      (velocity.r_m - rate->centre.r_m - rate->radial_m * sin(angle)) / arc->radial_m};
}

void cavum_curve_rate_fit_arc(cavum_curve_rate *rate, const cavum_curve *arc, bool circle) {
  double a = arc->angle_start_rad, b = arc->angle_end_rad;
  cavum_point first = {cos(a), sin(a)}, last = {cos(b), sin(b)};
  if (circle) {
    double from_start = (rate->start.z_m - rate->centre.z_m) * first.z_m +
                        (rate->start.r_m - rate->centre.r_m) * first.r_m;
    double from_end = (rate->end.z_m - rate->centre.z_m) * last.z_m +
                      (rate->end.r_m - rate->centre.r_m) * last.r_m;
    rate->axial_m = rate->radial_m = 0.5 * (from_start + from_end);
  }
  cavum_point of_first = against_circle(arc, rate, a, rate->start);
  cavum_point of_last = against_circle(arc, rate, b, rate->end);
  cavum_point chord = {last.z_m - first.z_m, last.r_m - first.r_m};
  double square = chord.z_m * chord.z_m + chord.r_m * chord.r_m;
  double out_first = first.z_m * of_first.z_m + first.r_m * of_first.r_m;
  double out_last = last.z_m * of_last.z_m + last.r_m * of_last.r_m;
  double shift = (out_last - out_first) / square;
  cavum_point centre = {shift * chord.z_m, shift * chord.r_m};
  double scale = 0.5 * (out_first + out_last - centre.z_m * (first.z_m + last.z_m) -
                        centre.r_m * (first.r_m + last.r_m));
  rate->centre.z_m += arc->axial_m * centre.z_m;
  rate->centre.r_m += arc->radial_m * centre.r_m;
  rate->axial_m += arc->axial_m * scale;
  rate->radial_m += arc->radial_m * scale;
  cavum_curve_rate_set_angles(rate, arc);
}
