// SPDX-License-Identifier: GPL-3.0-or-later
// Loss integral and peaks on the metal wall.
#include "surface.h"

#include "base.h"
#include "quadrature.h"

double cavum_surface_integral_h2(const cavum_view *view) {
  double x[CAVUM_QUADRATURE_MOST], w[CAVUM_QUADRATURE_MOST], sum = 0.0;
  // H^2 has twice the degree of the field; the margin is for r |dx/ds| of a curved wall.
  int points = view->field.discretisation->reference->degree + 5;
  cavum_quadrature_gauss(x, w, points);
  for (cavum_index i = 0; i < view->sides->num_metal; i++) {
    cavum_side side = view->sides->metal[i];
    cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
    for (int k = 0; k < points; k++) {
      cavum_wall_point at = cavum_trace_at(&trace, x[k]);
      sum += w[k] * at.h_phi_a_per_m * at.h_phi_a_per_m * at.r_m * hypot(at.z_s, at.r_s);
    }
  }
  return 2.0 * CAVUM_PI * view->copies * sum;
}

typedef double (*wall_quantity)(const cavum_wall_point *);

static double size_of_e(const cavum_wall_point *at) { return fabs(at->e_normal_v_per_m); }
static double size_of_h(const cavum_wall_point *at) { return fabs(at->h_phi_a_per_m); }

typedef struct candidate {
  cavum_index side; // into sides->metal
  double s, value;
} candidate;

static double evaluate(const cavum_trace *trace, wall_quantity quantity, double s) {
  cavum_wall_point at = cavum_trace_at(trace, s);
  return quantity(&at);
}

// Maximum in [low, high] by golden section; near a smooth maximum the value settles quadratically,
// so a bracket of 1e-7 gives the value to rounding. `best` starts the comparison with its end points.
static void refine(double *s, double *value, const cavum_trace *trace, wall_quantity quantity,
                   double low, double high) {
  const double golden = 0.6180339887498949;
  double a = high - golden * (high - low), b = low + golden * (high - low);
  double at_a = evaluate(trace, quantity, a), at_b = evaluate(trace, quantity, b);
  while (high - low > 1e-7) {
    if (at_a > at_b) {
      high = b, b = a, at_b = at_a;
      a = high - golden * (high - low);
      at_a = evaluate(trace, quantity, a);
    } else {
      low = a, a = b, at_a = at_b;
      b = low + golden * (high - low);
      at_b = evaluate(trace, quantity, b);
    }
  }
  double middle = 0.5 * (low + high), at_middle = evaluate(trace, quantity, middle);
  if (at_middle > *value) {
    *s = middle;
    *value = at_middle;
  }
}

enum { LOOKS = 12 };

// Largest sample of one edge; the bracket around it is refined only where it can matter.
static candidate look(const cavum_view *view, cavum_index i, wall_quantity quantity) {
  cavum_side side = view->sides->metal[i];
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  candidate best = {i, 0.0, -1.0};
  for (int k = 0; k <= LOOKS; k++) {
    double s = -1.0 + 2.0 * k / LOOKS, value = evaluate(&trace, quantity, s);
    if (value > best.value) best = (candidate){i, s, value};
  }
  return best;
}

static cavum_peak find_peak(const cavum_view *view, wall_quantity quantity) {
  candidate best = {-1, 0.0, 0.0};
  for (cavum_index i = 0; i < view->sides->num_metal; i++) {
    candidate here = look(view, i, quantity);
    // A sample lies within a few percent of the maximum of its edge (LOOKS a smooth half wave).
    if (here.value < 0.95 * best.value) continue;
    cavum_side side = view->sides->metal[i];
    cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
    double step = 2.0 / LOOKS;
    refine(&here.s, &here.value, &trace, quantity, cavum_max(-1.0, here.s - step),
           cavum_min(1.0, here.s + step));
    if (here.value > best.value) best = here;
  }
  if (best.side < 0) return (cavum_peak){0.0, {0.0, 0.0}};
  cavum_side side = view->sides->metal[best.side];
  cavum_trace trace = cavum_trace_create(&view->field, side.element, side.local_edge);
  cavum_wall_point at = cavum_trace_at(&trace, best.s);
  return (cavum_peak){best.value, {at.z_m, at.r_m}};
}

void cavum_surface_find_peaks(cavum_peak *electric, cavum_peak *magnetic, const cavum_view *view) {
  *electric = find_peak(view, size_of_e);
  *magnetic = find_peak(view, size_of_h);
}
