// SPDX-License-Identifier: GPL-3.0-or-later
// The not-a-knot cubic spline. Unknowns are the second derivatives m_i at the points; continuity of
// the first derivative gives for each inner point
//
//     h_{i-1} m_{i-1} + 2 (h_{i-1} + h_i) m_i + h_i m_{i+1} = 6 (d_i - d_{i-1}),
//
// h_i the chord lengths and d_i the slopes of the chords. The two end conditions express m_0 and
// m_n by their neighbours, which leaves a diagonally dominant tridiagonal system for the inner
// ones: m_0 = rest + next m_1 + second m_2, and likewise at the other end. An end whose direction
// is stated has the first derivative d there, of length 1 as the parameter is chord length:
// m_0 = 3 (d_0 - d) / h_0 - m_1 / 2.
#include "contour/spline.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"

/** What an outer second derivative is made of. */
typedef struct closure {
  cavum_point rest;
  double next, second;
} closure;

// x + factor y
static cavum_point plus(cavum_point x, double factor, cavum_point y) {
  return (cavum_point){x.z_m + factor * y.z_m, x.r_m + factor * y.r_m};
}

static const cavum_point ZERO = {0.0, 0.0};

/** Weight of the third derivative's jump: m_0 = (1 + ratio) m_1 - ratio m_2. */
static double end_ratio(const double *h, cavum_index outer, cavum_index inner) {
  return h[outer] / h[inner];
}

// Closures of both ends of n >= 3 spans, from the chords and their slopes.
static void close_ends(closure of[2], const cavum_spline_ends *ends, const double *h,
                       const cavum_point *slopes, cavum_index n) {
  const cavum_index outer[2] = {0, n - 1}, inner[2] = {1, n - 2};
  for (int end = 0; end < 2; end++) {
    cavum_index k = outer[end];
    double ratio = end_ratio(h, k, inner[end]);
    of[end] = (closure){.next = 1.0 + ratio, .second = -ratio};
    if (!ends || !ends->is_stated[end]) continue;
    double factor = (end == 0 ? 3.0 : -3.0) / h[k];
    cavum_point turn = plus(slopes[k], -1.0, ends->direction[end]);
    of[end] = (closure){.rest = plus(ZERO, factor, turn), .next = -0.5};
  }
}

/**
 * Solves for m[1..n-1] of n >= 3 spans by elimination without pivoting, both components at once;
 * they hold the right-hand sides before. diagonal is scratch, shape [n + 1].
 */
static void solve_inner_kernel(cavum_point *m, double *diagonal, const double *h,
                               const closure of[2], cavum_index n) {
  for (cavum_index i = 1; i < n; i++) diagonal[i] = 2.0 * (h[i - 1] + h[i]);
  m[1] = plus(m[1], -h[0], of[0].rest);
  m[n - 1] = plus(m[n - 1], -h[n - 1], of[1].rest);
  diagonal[1] += h[0] * of[0].next;
  diagonal[n - 1] += h[n - 1] * of[1].next;
  for (cavum_index i = 2; i < n; i++) {
    double upper = h[i - 1] + (i == 2 ? h[0] * of[0].second : 0.0);
    double lower = h[i - 1] + (i == n - 1 ? h[n - 1] * of[1].second : 0.0);
    double factor = lower / diagonal[i - 1];
    diagonal[i] -= factor * upper;
    m[i].z_m -= factor * m[i - 1].z_m;
    m[i].r_m -= factor * m[i - 1].r_m;
  }
  for (cavum_index i = n - 1; i >= 1; i--) {
    if (i < n - 1) {
      double upper = h[i] + (i == 1 ? h[0] * of[0].second : 0.0);
      m[i].z_m -= upper * m[i + 1].z_m;
      m[i].r_m -= upper * m[i + 1].r_m;
    }
    m[i].z_m /= diagonal[i];
    m[i].r_m /= diagonal[i];
  }
  m[0] = plus(plus(of[0].rest, of[0].next, m[1]), of[0].second, m[2]);
  m[n] = plus(plus(of[1].rest, of[1].next, m[n - 1]), of[1].second, m[n - 2]);
}

/** Fills m[0..n], the second derivatives at all points. */
static void solve_second_derivatives(cavum_point *m, double *diagonal,
                                     const cavum_spline_ends *ends, const double *h,
                                     const cavum_point *slopes, cavum_index n) {
  closure of[2];
  if (n == 1) return;
  if (n == 2) {  // one parabola: the second divided difference everywhere
    cavum_point second = {2.0 * (slopes[1].z_m - slopes[0].z_m) / (h[0] + h[1]),
                          2.0 * (slopes[1].r_m - slopes[0].r_m) / (h[0] + h[1])};
    m[0] = m[1] = m[2] = second;
    return;
  }
  for (cavum_index i = 1; i < n; i++) {
    m[i].z_m = 6.0 * (slopes[i].z_m - slopes[i - 1].z_m);
    m[i].r_m = 6.0 * (slopes[i].r_m - slopes[i - 1].r_m);
  }
  close_ends(of, ends, h, slopes, n);
  solve_inner_kernel(m, diagonal, h, of, n);
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
                                         const cavum_spline_ends *ends, cavum_error *error) {
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
  solve_second_derivatives(m, diagonal, ends, h, slopes, n);
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

// A spline and how it changes: chord lengths, slopes and second derivatives with their rates.
typedef struct moving_spline {
  double *h, *h_rate, *diagonal;             // owned, [n + 1]
  cavum_point *slope, *slope_rate, *m, *dm;  // owned, [n + 1]
} moving_spline;

static void clear_moving(moving_spline *s) {
  free(s->h);
  free(s->h_rate);
  free(s->diagonal);
  free(s->slope);
  free(s->slope_rate);
  free(s->m);
  free(s->dm);
}

static cavum_status make_moving(moving_spline *s, cavum_index n, cavum_error *error) {
  cavum_index count = n + 1;
  *s = (moving_spline){.h = cavum_alloc(count, sizeof(double)),
                       .h_rate = cavum_alloc(count, sizeof(double)),
                       .diagonal = cavum_alloc(count, sizeof(double)),
                       .slope = cavum_alloc(count, sizeof(cavum_point)),
                       .slope_rate = cavum_alloc(count, sizeof(cavum_point)),
                       .m = cavum_alloc(count, sizeof(cavum_point)),
                       .dm = cavum_alloc(count, sizeof(cavum_point))};
  bool have = s->h && s->h_rate && s->diagonal && s->slope && s->slope_rate && s->m && s->dm;
  return have ? CAVUM_OK : cavum_fail_memory(error);
}

// Velocity of the end of a span minus that of its start.
static cavum_point chord_rate(cavum_index i, cavum_index moved, cavum_point velocity) {
  double sign = i + 1 == moved ? 1.0 : i == moved ? -1.0 : 0.0;
  return plus(ZERO, sign, velocity);
}

// The directions that are stated, as the spans have them.
static cavum_spline_ends ends_of(const cavum_curve *spans, cavum_index n, const bool stated[2]) {
  cavum_spline_ends ends = {.is_stated = {stated[0], stated[1]}};
  for (int end = 0; end < 2; end++) {
    cavum_point slope = cavum_curve_derivative(&spans[end == 0 ? 0 : n - 1], (double)end);
    ends.direction[end] = plus(ZERO, 1.0 / hypot(slope.z_m, slope.r_m), slope);
  }
  return ends;
}

static void fill_moving(moving_spline *s, const cavum_curve *spans, cavum_index n,
                        const cavum_spline_ends *ends, cavum_index moved, cavum_point velocity) {
  for (cavum_index i = 0; i < n; i++) {
    cavum_point chord = plus(spans[i].end, -1.0, spans[i].start);
    cavum_point rate = chord_rate(i, moved, velocity);
    double h = s->h[i] = hypot(chord.z_m, chord.r_m);
    cavum_point slope = s->slope[i] = plus(ZERO, 1.0 / h, chord);
    s->h_rate[i] = slope.z_m * rate.z_m + slope.r_m * rate.r_m;
    s->slope_rate[i] = plus(plus(ZERO, 1.0 / h, rate), -s->h_rate[i] / h, slope);
  }
  solve_second_derivatives(s->m, s->diagonal, ends, s->h, s->slope, n);
}

// Rate of the ratio of an end condition.
static double ratio_rate(const moving_spline *s, cavum_index outer, cavum_index inner) {
  double ratio = end_ratio(s->h, outer, inner);
  return (s->h_rate[outer] - ratio * s->h_rate[inner]) / s->h[inner];
}

// What an outer second derivative changes by when its closure does.
static cavum_point closure_rate(const moving_spline *s, const closure *of, bool is_stated,
                                cavum_index outer, cavum_index inner, int sign) {
  cavum_index next = sign > 0 ? outer + 1 : outer, second = next + sign;
  if (!is_stated)
    return plus(ZERO, ratio_rate(s, outer, inner), plus(s->m[next], -1.0, s->m[second]));
  return plus(plus(ZERO, -s->h_rate[outer] / s->h[outer], of->rest), 3.0 * sign / s->h[outer],
              s->slope_rate[outer]);
}

// The equations of the head of this file, differentiated: the same matrix.
static void solve_rates(moving_spline *s, const cavum_spline_ends *ends, cavum_index n) {
  const double *h = s->h, *dh = s->h_rate;
  closure of[2];
  if (n == 1) return;
  if (n == 2) {
    cavum_point second =
        plus(ZERO, 2.0 / (h[0] + h[1]), plus(s->slope_rate[1], -1.0, s->slope_rate[0]));
    second = plus(second, -(dh[0] + dh[1]) / (h[0] + h[1]), s->m[0]);
    s->dm[0] = s->dm[1] = s->dm[2] = second;
    return;
  }
  close_ends(of, ends, h, s->slope, n);
  of[0].rest = closure_rate(s, &of[0], ends->is_stated[0], 0, 1, 1);
  of[1].rest = closure_rate(s, &of[1], ends->is_stated[1], n - 1, n - 2, -1);
  for (cavum_index i = 1; i < n; i++) {
    cavum_point side = plus(ZERO, 6.0, plus(s->slope_rate[i], -1.0, s->slope_rate[i - 1]));
    side = plus(side, -dh[i - 1], s->m[i - 1]);
    side = plus(side, -2.0 * (dh[i - 1] + dh[i]), s->m[i]);
    s->dm[i] = plus(side, -dh[i], s->m[i + 1]);
  }
  solve_inner_kernel(s->dm, s->diagonal, h, of, n);
}

// Those of span_coefficients().
static void add_span_rate(cavum_curve_rate *to, const moving_spline *s, cavum_index i,
                          cavum_point start_rate, cavum_point end_rate) {
  double h = s->h[i], dh = s->h_rate[i];
  cavum_point twice = plus(s->m[i + 1], 2.0, s->m[i]),
              twice_rate = plus(s->dm[i + 1], 2.0, s->dm[i]);
  cavum_point jump = plus(s->m[i + 1], -1.0, s->m[i]),
              jump_rate = plus(s->dm[i + 1], -1.0, s->dm[i]);
  cavum_point linear = plus(plus(ZERO, dh, s->slope[i]), h, s->slope_rate[i]);
  linear = plus(plus(linear, -h * dh / 3.0, twice), -h * h / 6.0, twice_rate);
  to->start = plus(to->start, 1.0, start_rate);
  to->end = plus(to->end, 1.0, end_rate);
  to->cubic[0] = plus(to->cubic[0], 1.0, start_rate);
  to->cubic[1] = plus(to->cubic[1], 1.0, linear);
  to->cubic[2] = plus(plus(to->cubic[2], h * dh, s->m[i]), 0.5 * h * h, s->dm[i]);
  to->cubic[3] = plus(plus(to->cubic[3], h * dh / 3.0, jump), h * h / 6.0, jump_rate);
}

cavum_status cavum_spline_rate(cavum_curve_rate *rates, const cavum_curve *spans,
                               cavum_index num_spans, const bool stated[2], cavum_index moved,
                               cavum_point velocity, cavum_error *error) {
  moving_spline s = {0};
  cavum_status status = CAVUM_OK;
  const cavum_spline_ends ends = ends_of(spans, num_spans, stated);
  CAVUM_TRY(make_moving(&s, num_spans, error));
  fill_moving(&s, spans, num_spans, &ends, moved, velocity);
  solve_rates(&s, &ends, num_spans);
  for (cavum_index i = 0; i < num_spans; i++) {
    add_span_rate(&rates[i], &s, i, i == moved ? velocity : ZERO, i + 1 == moved ? velocity : ZERO);
  }
done:
  clear_moving(&s);
  return status;
}
