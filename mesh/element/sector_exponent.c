// SPDX-License-Identifier: GPL-3.0-or-later
// The least root of a boundary value problem over sectors, by shooting.
#include "element/sector_exponent.h"

#include "base/base.h"

// Exponents are looked for in steps from the least one on; two roots in one step are not met, but
// the first ones of one corner are farther apart.
static const double EXPONENT_LEAST = 0.02, EXPONENT_STEP = 0.02;
enum { BISECTIONS = 48 };
// Steps of a sector about the axis, of which half of the first has a series.
enum { ODE_STEPS = 64, SERIES_TERMS = 60 };

// A function and its flux: f and f' / eps, or g and eps sin(theta) g'.
typedef struct shot {
  double value, flux;
} shot;

typedef struct corner_problem {
  const cavum_sector *sectors;
  int count;
  bool zero_before, zero_after;  // off the axis
  cavum_sector_end end;          // on the axis
} corner_problem;

static shot through_sectors(shot at, double lambda, const corner_problem *problem) {
  for (int i = 0; i < problem->count; i++) {
    const cavum_sector *sector = &problem->sectors[i];
    double c = cos(lambda * sector->angle_rad), s = sin(lambda * sector->angle_rad);
    at = (shot){c * at.value + s * sector->eps_r / lambda * at.flux,
                c * at.flux - s * lambda / sector->eps_r * at.value};
  }
  return at;
}

// What must vanish at the far side of a corner off the axis.
static double miss_at_corner(double lambda, const corner_problem *problem) {
  shot at = problem->zero_before ? (shot){0.0, 1.0} : (shot){1.0, 0.0};
  at = through_sectors(at, lambda, problem);
  return problem->zero_after ? at.value : at.flux;
}

// Once around a function is itself again: 1 is an eigenvalue of the way around, whose determinant
// is 1, where its trace is 2. In one material the trace is 2 cos(2 pi lambda), which does not
// change its sign less 2.
static double miss_around(double lambda, const corner_problem *problem) {
  return through_sectors((shot){1.0, 0.0}, lambda, problem).value +
         through_sectors((shot){0.0, 1.0}, lambda, problem).flux - 2.0;
}

static shot slope_of(double theta, shot at, double nu, double eps_r) {
  return (shot){at.flux / (eps_r * sin(theta)), -nu * (nu + 1.0) * eps_r * sin(theta) * at.value};
}

static shot moved_by(shot from, shot slope, double step) {
  return (shot){from.value + step * slope.value, from.flux + step * slope.flux};
}

// One step of the classical rule of fourth order.
static shot step_about_axis(double theta, shot at, double step, double nu, double eps_r) {
  shot a = slope_of(theta, at, nu, eps_r);
  shot b = slope_of(theta + 0.5 * step, moved_by(at, a, 0.5 * step), nu, eps_r);
  shot c = slope_of(theta + 0.5 * step, moved_by(at, b, 0.5 * step), nu, eps_r);
  shot d = slope_of(theta + step, moved_by(at, c, step), nu, eps_r);
  shot mean = {(a.value + 2.0 * (b.value + c.value) + d.value) / 6.0,
               (a.flux + 2.0 * (b.flux + c.flux) + d.flux) / 6.0};
  return moved_by(at, mean, step);
}

// In the first sector: P_nu(cos theta) = 2F1(-nu, nu + 1; 1; z) with z = sin^2(theta / 2), up to
// 0.5 here.
static shot start_at_axis(double theta, double nu, double eps_r) {
  double z = 0.5 * (1.0 - cos(theta)), term = 1.0, value = 1.0, derivative = 0.0;
  for (int k = 0; k < SERIES_TERMS; k++) {
    term *= (k - nu) * (k + nu + 1.0) / ((k + 1.0) * (k + 1.0)) * z;
    value += term;
    derivative += (k + 1.0) * term / z;
  }
  return (shot){value, eps_r * sin(theta) * derivative * 0.5 * sin(theta)};
}

// From the axis on through sectors, one after the other or (`next` -1) backwards.
static shot shoot_from_axis(double nu, const cavum_sector *first, int count, int next) {
  double theta = 0.5 * first->angle_rad, end = 0.0;
  shot at = start_at_axis(theta, nu, first->eps_r);
  for (int i = 0; i < count; i++) {
    const cavum_sector *sector = first + i * next;
    end += sector->angle_rad;
    double start = theta, step = (end - theta) / ODE_STEPS;
    for (int k = 0; k < ODE_STEPS; k++) {
      at = step_about_axis(start + k * step, at, step, nu, sector->eps_r);
    }
    theta = end;
  }
  return at;
}

// What must vanish at the wall, or where the solutions from both halves of the axis meet.
static double miss_on_axis(double nu, const corner_problem *problem) {
  if (problem->end != CAVUM_SECTOR_END_AXIS) {
    shot at = shoot_from_axis(nu, problem->sectors, problem->count, 1);
    return problem->end == CAVUM_SECTOR_END_METAL ? at.value : at.flux;
  }
  shot a = shoot_from_axis(nu, problem->sectors, problem->count - 1, 1);
  shot b = shoot_from_axis(nu, problem->sectors + problem->count - 1, 1, -1);
  return a.value * b.flux + b.value * a.flux;
}

static double smallest_root(double (*miss)(double, const corner_problem *),
                            const corner_problem *problem) {
  double low = EXPONENT_LEAST, at_low = miss(low, problem);
  while (low < CAVUM_SECTOR_EXPONENT_MOST) {
    double high = low + EXPONENT_STEP, at_high = miss(high, problem);
    if ((at_low > 0.0) == (at_high > 0.0)) {
      low = high;
      continue;
    }
    for (int i = 0; i < BISECTIONS; i++) {
      double middle = 0.5 * (low + high);
      bool below = (miss(middle, problem) > 0.0) == (at_low > 0.0);
      if (below) low = middle;
      if (!below) high = middle;
    }
    return cavum_min(0.5 * (low + high), CAVUM_SECTOR_EXPONENT_MOST);
  }
  return CAVUM_SECTOR_EXPONENT_MOST;
}

double cavum_sector_corner_exponent(const cavum_sector *sectors, int count, bool zero_before,
                                    bool zero_after) {
  const corner_problem problem = {sectors, count, zero_before, zero_after, CAVUM_SECTOR_END_METAL};
  return smallest_root(miss_at_corner, &problem);
}

double cavum_sector_ring_exponent(const cavum_sector *sectors, int count) {
  const corner_problem problem = {.sectors = sectors, .count = count};
  return cavum_min(1.0, smallest_root(miss_around, &problem));
}

double cavum_sector_tip_exponent(const cavum_sector *sectors, int count, cavum_sector_end end) {
  if (count < 2 && end == CAVUM_SECTOR_END_AXIS) return 1.0;
  const corner_problem problem = {sectors, count, false, false, end};
  return smallest_root(miss_on_axis, &problem);
}
