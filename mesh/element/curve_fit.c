// SPDX-License-Identifier: GPL-3.0-or-later
// Polynomials over the length of a curve.
#include "element/curve_fit.h"

#include "base/base.h"

// Newton's polynomial through nodes at 0, 1, 2, ...
typedef struct side_polynomial {
  int steps;
  cavum_point coefficient[CAVUM_MAP_LARGEST_ORDER + 1];
} side_polynomial;

static side_polynomial polynomial_of(const cavum_point *nodes, int steps) {
  side_polynomial made = {.steps = steps};
  cavum_point *c = made.coefficient;
  for (int i = 0; i <= steps; i++) c[i] = nodes[i];
  for (int k = 1; k <= steps; k++) {
    for (int i = steps; i >= k; i--) {
      c[i] = (cavum_point){(c[i].z_m - c[i - 1].z_m) / k, (c[i].r_m - c[i - 1].r_m) / k};
    }
  }
  return made;
}

static cavum_point derivative_at(const side_polynomial *side, double x) {
  const cavum_point *c = side->coefficient;
  cavum_point value = c[side->steps], slope = {0.0, 0.0};
  for (int i = side->steps - 1; i >= 0; i--) {
    slope = (cavum_point){slope.z_m * (x - i) + value.z_m, slope.r_m * (x - i) + value.r_m};
    value = (cavum_point){value.z_m * (x - i) + c[i].z_m, value.r_m * (x - i) + c[i].r_m};
  }
  return slope;
}

static double speed_at(const side_polynomial *side, double x) {
  cavum_point slope = derivative_at(side, x);
  return hypot(slope.z_m, slope.r_m);
}

// Gauss' rule of three points; the speed hardly changes from one node to the next.
static double length_between(const side_polynomial *side, int from) {
  const double off = 0.5 * sqrt(0.6), middle = from + 0.5;
  return (5.0 * speed_at(side, middle - off) + 8.0 * speed_at(side, middle) +
          5.0 * speed_at(side, middle + off)) /
         18.0;
}

// Largest |x (x - 1) ... (x - steps)|, which lies between the first two nodes.
static double largest_of_nodes(int steps) {
  enum { LOOKS = 16 };
  double largest = 0.0;
  for (int look = 1; look < LOOKS; look++) {
    double product = 1.0;
    for (int i = 0; i <= steps; i++) product *= fabs((double)look / LOOKS - i);
    largest = cavum_max(largest, product);
  }
  return largest;
}

// A coefficient that is small by luck counts as this part of the one before.
static const double LUCK = 0.25;

// Off the chord, what the polynomial of degree n adds that goes through the nodes 0 to n, as the
// coefficient of a Legendre polynomial over the side: its leading coefficient is
// (2 n)! / (2^n n!^2) on [-1, 1].
static double added_by_degree(const side_polynomial *side, cavum_point normal, int n) {
  const cavum_point *top = &side->coefficient[n];
  double off = fabs(top->z_m * normal.z_m + top->r_m * normal.r_m);
  for (int i = 1; i <= n; i++) off *= (double)side->steps * i / (n + i);
  return off;
}

static double top_of(const side_polynomial *side, const cavum_point *nodes) {
  int n = side->steps;
  if (n < 2) return 0.0;
  cavum_point chord = {nodes[n].z_m - nodes[0].z_m, nodes[n].r_m - nodes[0].r_m};
  double length = hypot(chord.z_m, chord.r_m);
  cavum_point normal = {-chord.r_m / length, chord.z_m / length};
  double top_m = added_by_degree(side, normal, n);
  return n == 2 ? top_m : cavum_max(top_m, LUCK * added_by_degree(side, normal, n - 1));
}

cavum_side_shape cavum_side_shape_of(const cavum_point *nodes, int steps) {
  cavum_side_shape made = {0};
  side_polynomial side = polynomial_of(nodes, steps);
  double factorial = 1.0;
  for (int i = 0; i < steps; i++) {
    made.length_m[i + 1] = made.length_m[i] + length_between(&side, i);
    factorial *= i + 1;
  }
  for (int end = 0; end < 2; end++) {
    cavum_point slope = derivative_at(&side, end * steps);
    double speed = hypot(slope.z_m, slope.r_m);
    if (speed > 0.0) made.along[end] = (cavum_point){slope.z_m / speed, slope.r_m / speed};
    made.off_by_slope_m[end] = speed * largest_of_nodes(steps) / factorial;
  }
  made.top_m = top_of(&side, nodes);
  return made;
}

bool cavum_curve_fit_create(cavum_curve_fit *fit, const cavum_curve_node *nodes, int count) {
  if (!CAVUM_HOLDS(count <= CAVUM_FIT_NODES)) return false;
  for (int i = 0; i < count; i++) {
    fit->length_m[i] = nodes[i].length_m;
    fit->coefficient[i] = nodes[i].at;
    if (i > 0 && !(nodes[i].length_m > nodes[i - 1].length_m)) return false;
  }
  for (int k = 1; k < count; k++) {
    for (int i = count - 1; i >= k; i--) {
      double apart = fit->length_m[i] - fit->length_m[i - k];
      cavum_point a = fit->coefficient[i - 1], b = fit->coefficient[i];
      fit->coefficient[i] = (cavum_point){(b.z_m - a.z_m) / apart, (b.r_m - a.r_m) / apart};
    }
  }
  fit->num_nodes = count;
  return true;
}

cavum_point cavum_curve_fit_at(const cavum_curve_fit *fit, double length_m) {
  cavum_point at = {0.0, 0.0};
  for (int i = fit->num_nodes - 1; i >= 0; i--) {
    double from = length_m - fit->length_m[i];
    at.z_m = at.z_m * from + fit->coefficient[i].z_m;
    at.r_m = at.r_m * from + fit->coefficient[i].r_m;
  }
  return at;
}

// Neville's scheme.
double cavum_curve_length_at(const double *length_m, int steps, double s) {
  double value[CAVUM_MAP_LARGEST_ORDER + 1], x = 0.5 * (1.0 + s) * steps;
  for (int i = 0; i <= steps; i++) value[i] = length_m[i];
  for (int k = 1; k <= steps; k++) {
    for (int i = 0; i <= steps - k; i++) {
      value[i] = ((x - i) * value[i + 1] - (x - i - k) * value[i]) / k;
    }
  }
  return value[0];
}
