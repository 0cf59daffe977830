// SPDX-License-Identifier: GPL-3.0-or-later
// How the half of a mirrored contour moves: the steps of mirror.c on rates.
#include <math.h>
#include <string.h>

#include "contour/mirror.h"

static cavum_index wrap(cavum_index place, cavum_index count) {
  cavum_index rest = place % count;
  return rest < 0 ? rest + count : rest;
}

static cavum_point image_of(cavum_point rate) { return (cavum_point){-rate.z_m, rate.r_m}; }

// The curve t -> c(1 - t), seen in the mirror: an angle becomes pi less it, and t^k a binomial.
static cavum_curve_rate image_backwards(const cavum_curve_rate *rate) {
  static const double binomial[4][4] = {{1, 1, 1, 1}, {0, 1, 2, 3}, {0, 0, 1, 3}, {0, 0, 0, 1}};
  cavum_curve_rate image = {.start = image_of(rate->end),
                            .end = image_of(rate->start),
                            .centre = image_of(rate->centre),
                            .axial_m = rate->axial_m,
                            .radial_m = rate->radial_m,
                            .angle_start_rad = -rate->angle_end_rad,
                            .angle_end_rad = -rate->angle_start_rad};
  for (int j = 0; j < 4; j++) {
    double sign = j % 2 ? -1.0 : 1.0;
    for (int k = j; k < 4; k++) {
      image.cubic[j].z_m -= sign * binomial[j][k] * rate->cubic[k].z_m;
      image.cubic[j].r_m += sign * binomial[j][k] * rate->cubic[k].r_m;
    }
  }
  return image;
}

static cavum_point half_sum(cavum_point a, cavum_point b, double sign) {
  return (cavum_point){0.5 * (a.z_m + sign * b.z_m), 0.5 * (a.r_m + sign * b.r_m)};
}

// Half the sum of a change and of its image, times a sign.
static cavum_curve_rate part_of(const cavum_curve_rate *own, const cavum_curve_rate *partner,
                                double sign) {
  cavum_curve_rate image = image_backwards(partner), part;
  part.start = half_sum(own->start, image.start, sign);
  part.end = half_sum(own->end, image.end, sign);
  part.centre = half_sum(own->centre, image.centre, sign);
  part.axial_m = 0.5 * (own->axial_m + sign * image.axial_m);
  part.radial_m = 0.5 * (own->radial_m + sign * image.radial_m);
  part.angle_start_rad = 0.5 * (own->angle_start_rad + sign * image.angle_start_rad);
  part.angle_end_rad = 0.5 * (own->angle_end_rad + sign * image.angle_end_rad);
  for (int k = 0; k < 4; k++) part.cubic[k] = half_sum(own->cubic[k], image.cubic[k], sign);
  return part;
}

static cavum_point point_rate(const cavum_curve *curve, const cavum_curve_rate *rate, double t) {
  cavum_point point, slope;
  cavum_curve_rate_at(&point, &slope, curve, rate, t);
  return point;
}

// t = u / 2, or (1 + u) / 2, in a polynomial of its coefficients.
static void halve_cubic(cavum_point c[4], bool second) {
  for (int k = 0; k < 4; k++) {
    c[k].z_m = ldexp(c[k].z_m, -k);
    c[k].r_m = ldexp(c[k].r_m, -k);
  }
  if (!second) return;
  cavum_point a = c[0], b = c[1], d = c[2], e = c[3];
  c[0] = (cavum_point){a.z_m + b.z_m + d.z_m + e.z_m, a.r_m + b.r_m + d.r_m + e.r_m};
  c[1] = (cavum_point){b.z_m + 2.0 * d.z_m + 3.0 * e.z_m, b.r_m + 2.0 * d.r_m + 3.0 * e.r_m};
  c[2] = (cavum_point){d.z_m + 3.0 * e.z_m, d.r_m + 3.0 * e.r_m};
}

// The second or the first half of a curve.
static void halve(cavum_curve_rate *rate, const cavum_curve *curve, bool second) {
  cavum_point middle = point_rate(curve, rate, 0.5);
  double turn = 0.5 * (rate->angle_start_rad + rate->angle_end_rad);
  *(second ? &rate->start : &rate->end) = middle;
  *(second ? &rate->angle_start_rad : &rate->angle_end_rad) = turn;
  halve_cubic(rate->cubic, second);
}

bool cavum_contour_halve_rates(cavum_curve_rate *half, cavum_index num_half,
                               const cavum_curve_rate *whole, const cavum_contour *contour,
                               const cavum_contour_mirror *mirror, bool odd) {
  cavum_index n = contour->num_curves, count = 0;
  cavum_index at = mirror->lower / 2, last = wrap(mirror->upper - 1, 2 * n) / 2;
  cavum_point foot = {0.0, 0.0}, top = {0.0, 0.0};
  for (bool first = true;; first = false, at = wrap(at + 1, n)) {
    const cavum_curve *curve = &contour->curves[at];
    if (count + 1 >= num_half) return false;
    cavum_curve_rate *rate = &half[count++];
    const cavum_curve_rate *own = &whole[at], *partner = &whole[wrap(mirror->lower - 1 - at, n)];
    // Most curves rest where one number of a path changes.
    if (!cavum_curve_rate_moves(own) && !cavum_curve_rate_moves(partner)) {
      memset(rate, 0, sizeof *rate);
      if (at == last) break;
      continue;
    }
    *rate = part_of(own, partner, odd ? -1.0 : 1.0);
    bool second = first && mirror->lower % 2 != 0, front = at == last && mirror->upper % 2 != 0;
    if (first) foot = point_rate(curve, rate, second ? 0.5 : 0.0);
    if (at == last) top = point_rate(curve, rate, front ? 0.5 : 1.0);
    if (second) halve(rate, curve, true);
    if (front) halve(rate, curve, false);
    if (at == last) break;
  }
  half[count++] = (cavum_curve_rate){.start = top, .end = foot};
  return count == num_half;
}
