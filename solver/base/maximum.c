// SPDX-License-Identifier: GPL-3.0-or-later
// Brent's search.
#include "base/maximum.h"

#include <math.h>
#include <stdbool.h>

enum { STEPS_MOST = 80 };

// The best point, the second and the third best, the bracket and the last two steps.
typedef struct search {
  double x, w, v, fx, fw, fv;
  double low, high, step, before, tolerance;
} search;

static void sort_points(search *s, const double x[3], const double value[3]) {
  int best = value[0] > value[1] ? 0 : 1;
  if (value[2] > value[best]) best = 2;
  int a = (best + 1) % 3, b = (best + 2) % 3;
  int second = value[a] > value[b] ? a : b, third = second == a ? b : a;
  s->x = x[best], s->fx = value[best];
  s->w = x[second], s->fw = value[second];
  s->v = x[third], s->fv = value[third];
}

// The next point to look at.
static double next_point(search *s) {
  const double golden = 0.3819660112501051;
  double a = (s->x - s->w) * (s->fx - s->fv), b = (s->x - s->v) * (s->fx - s->fw);
  double p = (s->x - s->v) * b - (s->x - s->w) * a, q = 2.0 * (b - a);
  if (q > 0.0) p = -p;
  q = fabs(q);
  bool parabola =
      fabs(p) < fabs(0.5 * q * s->before) && p > q * (s->low - s->x) && p < q * (s->high - s->x);
  s->before = s->step;
  if (parabola) {
    s->step = p / q;
  } else {
    s->before = s->x < 0.5 * (s->low + s->high) ? s->high - s->x : s->low - s->x;
    s->step = golden * s->before;
  }
  if (fabs(s->step) < s->tolerance) s->step = s->step < 0.0 ? -s->tolerance : s->tolerance;
  return s->x + s->step;
}

static void take_point(search *s, double u, double fu) {
  bool better = fu >= s->fx, left = u < s->x;
  if (better == left) {
    s->high = better ? s->x : u;
  } else {
    s->low = better ? s->x : u;
  }
  if (better) {
    s->v = s->w, s->fv = s->fw;
    s->w = s->x, s->fw = s->fx;
    s->x = u, s->fx = fu;
  } else if (fu >= s->fw || s->w == s->x) {
    s->v = s->w, s->fv = s->fw;
    s->w = u, s->fw = fu;
  } else if (fu >= s->fv || s->v == s->x || s->v == s->w) {
    s->v = u, s->fv = fu;
  }
}

void cavum_maximum_find(double x[3], double value[3], double tolerance, cavum_function function,
                        const void *context) {
  search s = {.low = x[0], .high = x[2], .step = x[2] - x[0], .tolerance = tolerance};
  s.before = s.step;
  sort_points(&s, x, value);
  for (int i = 0; i < STEPS_MOST && s.high - s.low > tolerance; i++) {
    double middle = 0.5 * (s.low + s.high);
    if (fabs(s.x - middle) <= 2.0 * tolerance - 0.5 * (s.high - s.low)) break;
    double u = next_point(&s);
    take_point(&s, u, function(u, context));
  }
  x[1] = s.x;
  value[1] = s.fx;
}
