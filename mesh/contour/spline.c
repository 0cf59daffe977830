// SPDX-License-Identifier: GPL-3.0-or-later
// The not-a-knot cubic spline. Unknowns are the second derivatives m_i at the points; continuity of
// the first derivative gives for each inner point
//
//     h_{i-1} m_{i-1} + 2 (h_{i-1} + h_i) m_i + h_i m_{i+1} = 6 (d_i - d_{i-1}),
//
// h_i the chord lengths and d_i the slopes of the chords. The two end conditions express m_0 and
// m_n by their neighbours, which leaves a diagonally dominant tridiagonal system for the inner
// ones.
#include "contour/spline.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"

/** Weight of the third derivative's jump: m_0 = (1 + ratio) m_1 - ratio m_2. */
static double end_ratio(const double *h, cavum_index outer, cavum_index inner) {
  return h[outer] / h[inner];
}

/**
 * Solves for m[1..n-1] of n >= 3 spans by elimination without pivoting, both components at once.
 * diagonal is scratch, shape [n + 1]; slopes has shape [n].
 */
static void solve_inner_kernel(cavum_point *m, double *diagonal, const double *h,
                               const cavum_point *slopes, cavum_index n) {
  for (cavum_index i = 1; i < n; i++) {
    m[i].z_m = 6.0 * (slopes[i].z_m - slopes[i - 1].z_m);
    m[i].r_m = 6.0 * (slopes[i].r_m - slopes[i - 1].r_m);
    diagonal[i] = 2.0 * (h[i - 1] + h[i]);
  }
  double first = end_ratio(h, 0, 1), last = end_ratio(h, n - 1, n - 2);
  diagonal[1] += h[0] * (1.0 + first);
  diagonal[n - 1] += h[n - 1] * (1.0 + last);
  for (cavum_index i = 2; i < n; i++) {
    double upper = h[i - 1] - (i == 2 ? h[0] * first : 0.0);
    double lower = h[i - 1] - (i == n - 1 ? h[n - 1] * last : 0.0);
    double factor = lower / diagonal[i - 1];
    diagonal[i] -= factor * upper;
    m[i].z_m -= factor * m[i - 1].z_m;
    m[i].r_m -= factor * m[i - 1].r_m;
  }
  for (cavum_index i = n - 1; i >= 1; i--) {
    if (i < n - 1) {
      double upper = h[i] - (i == 1 ? h[0] * first : 0.0);
      m[i].z_m -= upper * m[i + 1].z_m;
      m[i].r_m -= upper * m[i + 1].r_m;
    }
    m[i].z_m /= diagonal[i];
    m[i].r_m /= diagonal[i];
  }
}

/** Fills m[0..n], the second derivatives at all points. */
static void solve_second_derivatives(cavum_point *m, double *diagonal, const double *h,
                                     const cavum_point *slopes, cavum_index n) {
  if (n == 1) return;
  if (n == 2) {  // one parabola: the second divided difference everywhere
    cavum_point second = {2.0 * (slopes[1].z_m - slopes[0].z_m) / (h[0] + h[1]),
                          2.0 * (slopes[1].r_m - slopes[0].r_m) / (h[0] + h[1])};
    m[0] = m[1] = m[2] = second;
    return;
  }
  solve_inner_kernel(m, diagonal, h, slopes, n);
  double first = end_ratio(h, 0, 1), last = end_ratio(h, n - 1, n - 2);
  m[0].z_m = (1.0 + first) * m[1].z_m - first * m[2].z_m;
  m[0].r_m = (1.0 + first) * m[1].r_m - first * m[2].r_m;
  m[n].z_m = (1.0 + last) * m[n - 1].z_m - last * m[n - 2].z_m;
  m[n].r_m = (1.0 + last) * m[n - 1].r_m - last * m[n - 2].r_m;
}

/** Coefficients of 1, t, t^2, t^3 of one component on a span of chord length h. */
static void span_coefficients(double out[4], double y0, double slope, double m0, double m1,
                              double h) {
  out[0] = y0;
  out[1] = h * (slope - h * (2.0 * m0 + m1) / 6.0);
  out[2] = 0.5 * h * h * m0;
  out[3] = h * h * (m1 - m0) / 6.0;
}

static cavum_curve make_span(cavum_point start, cavum_point end, cavum_point slope, cavum_point m0,
                             cavum_point m1, double h) {
  cavum_curve span = {.kind = CAVUM_CURVE_CUBIC, .start = start, .end = end};
  double z[4], r[4];
  span_coefficients(z, start.z_m, slope.z_m, m0.z_m, m1.z_m, h);
  span_coefficients(r, start.r_m, slope.r_m, m0.r_m, m1.r_m, h);
  for (int k = 0; k < 4; k++) {
    span.cubic[k].z_m = z[k];
    span.cubic[k].r_m = r[k];
  }
  return span;
}

cavum_status cavum_spline_through_points(cavum_curve *spans, const cavum_point *points,
                                         cavum_index num_points, cavum_boundary boundary,
                                         cavum_error *error) {
  if (!CAVUM_HOLDS(num_points >= 2)) return cavum_fail_internal(error, "a spline needs two points");
  cavum_status status = CAVUM_OK;
  cavum_index n = num_points - 1;
  double *h = cavum_alloc(num_points, sizeof *h);
  double *diagonal = cavum_alloc(num_points, sizeof *diagonal);
  cavum_point *slopes = cavum_alloc(num_points, sizeof *slopes);
  cavum_point *m = cavum_alloc(num_points, sizeof *m);
  if (!h || !diagonal || !slopes || !m) {
    status = cavum_fail_memory(error);
    goto done;
  }
  for (cavum_index i = 0; i < n; i++) {
    cavum_point chord = {points[i + 1].z_m - points[i].z_m, points[i + 1].r_m - points[i].r_m};
    h[i] = hypot(chord.z_m, chord.r_m);
    if (!(h[i] > 0.0)) {
      status = cavum_fail(error, CAVUM_ERR_GEOMETRY,
                          "spline point %d repeats the point before it (z = %.9g mm, r = %.9g mm)",
                          i + 1, cavum_in_mm(points[i].z_m), cavum_in_mm(points[i].r_m));
      goto done;
    }
    slopes[i].z_m = chord.z_m / h[i];
    slopes[i].r_m = chord.r_m / h[i];
  }
  solve_second_derivatives(m, diagonal, h, slopes, n);
  for (cavum_index i = 0; i < n; i++) {
    spans[i] = make_span(points[i], points[i + 1], slopes[i], m[i], m[i + 1], h[i]);
    spans[i].boundary = boundary;
  }
done:
  free(h);
  free(diagonal);
  free(slopes);
  free(m);
  return status;
}
