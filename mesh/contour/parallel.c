// SPDX-License-Identifier: GPL-3.0-or-later
// Parallel curves by Taylor series: the base curve at t as a series in t, each offset takes one
// order for the normal. Each coefficient carries its change with the numbers of the curve.
#include "contour/parallel.h"

#include <math.h>
#include <string.h>

// What is asked for is of order 2; each layer takes one.
enum { ASKED = 2, ORDER = ASKED + CAVUM_PARALLEL_LAYERS };

/** A number and its change. */
typedef struct dual {
  double value, rate;
} dual;

/** A function of t by its Taylor coefficients. */
typedef struct series {
  dual c[ORDER + 1];
} series;

static dual add(dual a, dual b) { return (dual){a.value + b.value, a.rate + b.rate}; }

static dual times(dual a, dual b) {
  return (dual){a.value * b.value, a.rate * b.value + a.value * b.rate};
}

static dual scale(dual a, double factor) { return (dual){a.value * factor, a.rate * factor}; }

static dual over(dual a, dual b) {
  double quotient = a.value / b.value;
  return (dual){quotient, (a.rate - quotient * b.rate) / b.value};
}

static dual inverse_root(dual a) {
  double root = sqrt(a.value);
  return (dual){1.0 / root, -0.5 * a.rate / (a.value * root)};
}

// Up to `order`.
static series multiply(const series *a, const series *b, int order) {
  series product = {0};
  for (int n = 0; n <= order; n++) {
    for (int k = 0; k <= n; k++) product.c[n] = add(product.c[n], times(a->c[k], b->c[n - k]));
  }
  return product;
}

// s^(-1/2): from p' s = -p s' / 2 coefficient by coefficient.
static series inverse_root_of(const series *s, int order) {
  series p = {0};
  p.c[0] = inverse_root(s->c[0]);
  for (int n = 1; n <= order; n++) {
    dual sum = {0};
    for (int k = 1; k <= n; k++) {
      sum = add(sum, scale(times(s->c[k], p.c[n - k]), -0.5 * k - (n - k)));
    }
    p.c[n] = over(sum, scale(s->c[0], n));
  }
  return p;
}

static series differentiate(const series *s, int order) {
  series slope = {0};
  for (int n = 0; n < order; n++) slope.c[n] = scale(s->c[n + 1], n + 1.0);
  return slope;
}

/** Where a curve is, as series. */
typedef struct place {
  series z, r;
} place;

// centre + half axis cos(angle): the derivatives by the angle turn by a right angle each.
static place start_ellipse(const cavum_curve *c, const cavum_curve_rate *d, double t, int order) {
  place at = {0};
  dual sweep = {c->angle_end_rad - c->angle_start_rad, d->angle_end_rad - d->angle_start_rad};
  dual angle = {c->angle_start_rad + t * sweep.value, d->angle_start_rad + t * sweep.rate};
  dual axial = {c->axial_m, d->axial_m}, radial = {c->radial_m, d->radial_m};
  double cosine = cos(angle.value), sine = sin(angle.value);
  dual power = {1.0, 0.0};  // sweep^n / n!
  for (int n = 0; n <= order; n++) {
    dual of_z = {cosine, -sine * angle.rate}, of_r = {sine, cosine * angle.rate};
    at.z.c[n] = times(times(axial, of_z), power);
    at.r.c[n] = times(times(radial, of_r), power);
    double turned = -sine;
    sine = cosine;
    cosine = turned;
    power = scale(times(power, sweep), 1.0 / (n + 1.0));
  }
  at.z.c[0] = add(at.z.c[0], (dual){c->centre.z_m, d->centre.z_m});
  at.r.c[0] = add(at.r.c[0], (dual){c->centre.r_m, d->centre.r_m});
  return at;
}

static place start_cubic(const cavum_curve *c, const cavum_curve_rate *d, double t) {
  static const double binomial[4][4] = {{1, 1, 1, 1}, {0, 1, 2, 3}, {0, 0, 1, 3}, {0, 0, 0, 1}};
  place at = {0};
  for (int n = 0; n < 4; n++) {
    double power = 1.0;
    for (int k = n; k < 4; k++) {
      double weight = binomial[n][k] * power;
      at.z.c[n] = add(at.z.c[n], (dual){weight * c->cubic[k].z_m, weight * d->cubic[k].z_m});
      at.r.c[n] = add(at.r.c[n], (dual){weight * c->cubic[k].r_m, weight * d->cubic[k].r_m});
      power *= t;
    }
  }
  return at;
}

// To the right of travel by (r', -z') / |(z', r')|; known to one order less than before.
static void move_along_normal(place *at, dual offset, int order) {
  series slope_z = differentiate(&at->z, order), slope_r = differentiate(&at->r, order);
  int left = order - 1;
  series square = multiply(&slope_z, &slope_z, left), other = multiply(&slope_r, &slope_r, left);
  for (int n = 0; n <= left; n++) square.c[n] = add(square.c[n], other.c[n]);
  series over_speed = inverse_root_of(&square, left);
  series of_z = multiply(&slope_r, &over_speed, left);
  series of_r = multiply(&slope_z, &over_speed, left);
  for (int n = 0; n <= left; n++) {
    at->z.c[n] = add(at->z.c[n], times(offset, of_z.c[n]));
    at->r.c[n] = add(at->r.c[n], scale(times(offset, of_r.c[n]), -1.0));
  }
}

static void stretch(place *at, dual lengthening, int order) {
  dual factor = add((dual){1.0, 0.0}, lengthening);
  for (int n = 0; n <= order; n++) at->z.c[n] = times(at->z.c[n], factor);
}

// Where the numbers of a layer are: the same in a curve and in its rates.
static const cavum_point *layer_points(cavum_point room[CAVUM_PARALLEL_LAYERS], bool of_cubic,
                                       cavum_point centre, const double four[4],
                                       const cavum_point cubic[4]) {
  if (!of_cubic) return cubic;
  room[0] = centre;
  room[1] = (cavum_point){four[0], four[1]};
  room[2] = (cavum_point){four[2], four[3]};
  room[3] = (cavum_point){0.0, 0.0};
  return room;
}

static int room_of(const cavum_curve *curve) {
  return curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC ? 3 : CAVUM_PARALLEL_LAYERS;
}

static place follow(const cavum_curve *curve, const cavum_curve_rate *rate, double t) {
  cavum_point rooms[2][CAVUM_PARALLEL_LAYERS];
  const double of_curve[4] = {curve->axial_m, curve->radial_m, curve->angle_start_rad,
                              curve->angle_end_rad};
  const double of_rate[4] = {rate->axial_m, rate->radial_m, rate->angle_start_rad,
                             rate->angle_end_rad};
  bool of_cubic = curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC;
  const cavum_point *layer =
      layer_points(rooms[0], of_cubic, curve->centre, of_curve, curve->cubic);
  const cavum_point *change = layer_points(rooms[1], of_cubic, rate->centre, of_rate, rate->cubic);
  int order = ORDER;
  place at = of_cubic ? start_cubic(curve, rate, t) : start_ellipse(curve, rate, t, order);
  for (int i = 0; i < CAVUM_PARALLEL_LAYERS; i++) {
    dual offset = {layer[i].z_m, change[i].z_m}, lengthening = {layer[i].r_m, change[i].r_m};
    if (offset.value != 0.0 || offset.rate != 0.0) move_along_normal(&at, offset, order--);
    if (lengthening.value != 0.0 || lengthening.rate != 0.0) stretch(&at, lengthening, order);
  }
  return at;
}

int cavum_parallel_get(cavum_parallel_layer layers[CAVUM_PARALLEL_LAYERS],
                       const cavum_curve *curve) {
  cavum_point room[CAVUM_PARALLEL_LAYERS];
  const double four[4] = {curve->axial_m, curve->radial_m, curve->angle_start_rad,
                          curve->angle_end_rad};
  const cavum_point *layer = layer_points(room, curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC,
                                          curve->centre, four, curve->cubic);
  for (int i = 0; i < CAVUM_PARALLEL_LAYERS; i++) {
    layers[i] = (cavum_parallel_layer){layer[i].z_m, layer[i].r_m};
  }
  return room_of(curve);
}

void cavum_parallel_set(cavum_curve *curve, const cavum_parallel_layer *layers) {
  if (curve->kind == CAVUM_CURVE_PARALLEL_OF_CUBIC) {
    curve->centre = (cavum_point){layers[0].offset_m, layers[0].lengthening};
    curve->axial_m = layers[1].offset_m;
    curve->radial_m = layers[1].lengthening;
    curve->angle_start_rad = layers[2].offset_m;
    curve->angle_end_rad = layers[2].lengthening;
    return;
  }
  for (int i = 0; i < CAVUM_PARALLEL_LAYERS; i++) {
    curve->cubic[i] = (cavum_point){layers[i].offset_m, layers[i].lengthening};
  }
}

cavum_parallel_place cavum_parallel_at(const cavum_curve *curve, double t) {
  static const cavum_curve_rate still = {0};
  place at = follow(curve, &still, t);
  return (cavum_parallel_place){{at.z.c[0].value, at.r.c[0].value},
                                {at.z.c[1].value, at.r.c[1].value},
                                {2.0 * at.z.c[2].value, 2.0 * at.r.c[2].value}};
}

cavum_parallel_place cavum_parallel_rate_at(const cavum_curve *curve, const cavum_curve_rate *rate,
                                            double t) {
  place at = follow(curve, rate, t);
  return (cavum_parallel_place){{at.z.c[0].rate, at.r.c[0].rate},
                                {at.z.c[1].rate, at.r.c[1].rate},
                                {2.0 * at.z.c[2].rate, 2.0 * at.r.c[2].rate}};
}

void cavum_parallel_rate_add(cavum_curve_rate *gradient, const cavum_curve *curve, double t,
                             cavum_point by_point, cavum_point by_slope) {
  enum {
    COUNT = sizeof *gradient / sizeof(double),
    FIRST = offsetof(cavum_curve_rate, centre) / sizeof(double)
  };
  double numbers[COUNT], unit[COUNT] = {0.0};
  memcpy(numbers, gradient, sizeof numbers);
  for (int i = FIRST; i < COUNT; i++) {  // the ends are stored, no part of the formula
    cavum_curve_rate one;
    unit[i] = 1.0;
    memcpy(&one, unit, sizeof one);
    unit[i] = 0.0;
    cavum_parallel_place by = cavum_parallel_rate_at(curve, &one, t);
    numbers[i] += by.point.z_m * by_point.z_m + by.point.r_m * by_point.r_m +
                  by.first.z_m * by_slope.z_m + by.first.r_m * by_slope.r_m;
  }
  memcpy(gradient, numbers, sizeof numbers);
}
