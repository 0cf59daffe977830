// SPDX-License-Identifier: GPL-3.0-or-later
// Smoothing. The distortion of a quadrilateral is taken at its corners, from the derivatives of the
// map there: the sum of cot^2 of the corner angles, which only right angles make zero, and the
// product of mean det J and mean 1/det J, which only a constant Jacobian makes one. Both are blind
// to the aspect ratio, which costs polynomials of high degree nothing. Inner vertices take Newton
// steps in the plane, vertices on straight pieces of the contour along it. What is still poor then,
// measured densely, is repaired by trial steps.
#include "quads_smooth.h"

#include "base.h"
#include "quads_star.h"

enum { HALVINGS = 3, REPAIRS = 4, NUM_DIRECTIONS = 8, SAMPLES = 5 };
// Weight of the variation of the Jacobian against the corner angles.
static const double variation_weight = 2.0;
// Rounds the corner where a sine becomes negative, so that folded elements unfold.
static const double sine_rounding = 0.05;
// Differences for derivatives, longest step and the move that ends the sweeps, over a side length.
static const double difference_step = 1e-3, longest_step = 0.3, small_move = 5e-3;
// A vertex keeps this part of a straight piece between its neighbours on both of its sides.
static const double slide_margin = 0.25;
// A trial step must win this much.
static const double least_gain = 1e-3;

// What one run needs.
typedef struct smoother {
  cavum_quads *quads;
  cavum_star star;
  cavum_point (*slopes)[4][2];  // owned, [num_quads]: derivatives of sides at their ends
} smoother;

static double distortion_of(const smoother *run, cavum_index q) {
  const cavum_quad *quad = &run->quads->quads[q];
  const cavum_point *vertices = run->quads->vertices;
  double angles = 0.0, sum = 0.0, inverse = 0.0;
  for (int k = 0; k < 4; k++) {
    int before = (k + 3) & 3;
    cavum_point here = vertices[quad->vertex[k]], a, b;
    if (quad->curve[k] < 0) {
      cavum_point next = vertices[quad->vertex[(k + 1) & 3]];
      a = (cavum_point){0.5 * (next.z_m - here.z_m), 0.5 * (next.r_m - here.r_m)};
    } else {
      a = run->slopes[q][k][0];
    }
    if (quad->curve[before] < 0) {
      cavum_point last = vertices[quad->vertex[before]];
      b = (cavum_point){0.5 * (last.z_m - here.z_m), 0.5 * (last.r_m - here.r_m)};
    } else {
      b = (cavum_point){-run->slopes[q][before][1].z_m, -run->slopes[q][before][1].r_m};
    }
    double square = (a.z_m * a.z_m + a.r_m * a.r_m) * (b.z_m * b.z_m + b.r_m * b.r_m);
    double norm = sqrt(square) + 1e-300;
    double sine = (a.z_m * b.r_m - a.r_m * b.z_m) / norm;
    sine = 0.5 * (sine + sqrt(sine * sine + 4.0 * sine_rounding * sine_rounding));
    angles += 1.0 / (sine * sine);
    sum += sine * norm;
    inverse += 1.0 / (sine * norm);
  }
  return angles + variation_weight * sum * inverse / 16.0;
}

static double distortion_around(const smoother *run, cavum_index v) {
  double sum = 0.0;
  for (cavum_index i = run->star.start[v]; i < run->star.start[v + 1]; i++) {
    sum += distortion_of(run, run->star.list[i]);
  }
  return sum;
}

static void find_slopes(smoother *run) {
  for (cavum_index q = 0; q < run->quads->num_quads; q++) {
    const cavum_quad *quad = &run->quads->quads[q];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] < 0) continue;
      const cavum_curve *curve = &run->quads->contour->curves[quad->curve[k]];
      double rate = 0.5 * (quad->t[k][1] - quad->t[k][0]);
      for (int end = 0; end < 2; end++) {
        cavum_point slope = cavum_curve_derivative(curve, quad->t[k][end]);
        run->slopes[q][k][end] = (cavum_point){rate * slope.z_m, rate * slope.r_m};
      }
    }
  }
}

static double at_offset(smoother *run, cavum_index v, cavum_point centre, double z, double r) {
  run->quads->vertices[v] = (cavum_point){centre.z_m + z, centre.r_m + r};
  return distortion_around(run, v);
}

// Newton step of the distortion around v; downhill where the second derivatives do not allow it.
static cavum_point newton_step(smoother *run, cavum_index v, double length, double *now) {
  cavum_point at = run->quads->vertices[v];
  double h = difference_step * length;
  double f0 = at_offset(run, v, at, 0, 0);
  double z1 = at_offset(run, v, at, h, 0), z2 = at_offset(run, v, at, -h, 0);
  double r1 = at_offset(run, v, at, 0, h), r2 = at_offset(run, v, at, 0, -h);
  double zr = at_offset(run, v, at, h, h);
  run->quads->vertices[v] = at;
  *now = f0;
  double gz = 0.5 * (z1 - z2) / h, gr = 0.5 * (r1 - r2) / h;
  double hzz = (z1 - 2.0 * f0 + z2) / (h * h), hrr = (r1 - 2.0 * f0 + r2) / (h * h);
  double hzr = (zr - z1 - r1 + f0) / (h * h), det = hzz * hrr - hzr * hzr;
  cavum_point step;
  if (hzz > 0.0 && det > 1e-6 * hzz * hrr) {
    step = (cavum_point){-(hrr * gz - hzr * gr) / det, -(hzz * gr - hzr * gz) / det};
  } else {
    double norm = hypot(gz, gr) + 1e-300;
    step = (cavum_point){-0.1 * length * gz / norm, -0.1 * length * gr / norm};
  }
  double far = hypot(step.z_m, step.r_m), most = longest_step * length;
  if (far > most) step = (cavum_point){step.z_m * most / far, step.r_m * most / far};
  return step;
}

// Moves an inner vertex downhill; returns the move over the side length.
static double move_inner(smoother *run, cavum_index v) {
  double length = cavum_star_length(&run->star, run->quads, v), now;
  cavum_point at = run->quads->vertices[v], step = newton_step(run, v, length, &now);
  for (int halving = 0; halving <= HALVINGS; halving++) {
    if (at_offset(run, v, at, step.z_m, step.r_m) < now) {
      return hypot(step.z_m, step.r_m) / length;
    }
    step = (cavum_point){0.25 * step.z_m, 0.25 * step.r_m};
  }
  run->quads->vertices[v] = at;
  return 0.0;
}

static double at_parameter(smoother *run, cavum_index v, double t) {
  cavum_star_set_parameter(&run->star, run->quads, v, t);
  for (cavum_index i = run->star.start[v]; i < run->star.start[v + 1]; i++) {
    cavum_index q = run->star.list[i];
    const cavum_quad *quad = &run->quads->quads[q];
    for (int k = 0; k < 4; k++) {
      if (quad->curve[k] != run->star.slide[v].curve) continue;
      cavum_point slope = cavum_curve_derivative(&run->quads->contour->curves[quad->curve[k]], 0.5);
      double rate = 0.5 * (quad->t[k][1] - quad->t[k][0]);
      run->slopes[q][k][0] = run->slopes[q][k][1] =
          (cavum_point){rate * slope.z_m, rate * slope.r_m};
    }
  }
  return distortion_around(run, v);
}

// Moves a vertex along its straight piece; returns the move over the piece between its neighbours.
static double move_along(smoother *run, cavum_index v) {
  const cavum_slide *slide = &run->star.slide[v];
  double low, high, t = slide->t;
  cavum_star_range(&low, &high, &run->star, run->quads, v);
  double range = high - low, h = difference_step * range, limit = slide_margin * range;
  double f0 = at_parameter(run, v, t);
  double f1 = at_parameter(run, v, t + h), f2 = at_parameter(run, v, t - h);
  double slope = 0.5 * (f1 - f2) / h, bend = (f1 - 2.0 * f0 + f2) / (h * h);
  double step = bend > 0.0 ? -slope / bend : (slope > 0.0 ? -0.1 : 0.1) * range;
  step = cavum_max(-longest_step * range, cavum_min(longest_step * range, step));
  for (int halving = 0; halving <= HALVINGS; halving++) {
    double to = cavum_max(low + limit, cavum_min(high - limit, t + step));
    if (at_parameter(run, v, to) < f0) return fabs(to - t) / range;
    step *= 0.25;
  }
  at_parameter(run, v, t);
  return 0.0;
}

// Least over largest Jacobian and least sine, the worse of the two, on a dense grid.
static double shape_around(const smoother *run, cavum_index v) {
  double worst = 1.0;
  for (cavum_index i = run->star.start[v]; i < run->star.start[v + 1]; i++) {
    cavum_quad_shape shape =
        cavum_quads_measure(run->quads, &run->quads->quads[run->star.list[i]], SAMPLES);
    worst = cavum_min(worst, cavum_min(shape.scaled_jacobian, shape.sine));
  }
  return worst;
}

// Tries steps in eight directions from v and keeps what makes the worst shape around it better.
static void repair_vertex(smoother *run, cavum_index v, double scale, double poor_shape) {
  static const double directions[NUM_DIRECTIONS][2] = {
      {1, 0}, {0, 1}, {-1, 0}, {0, -1}, {0.7, 0.7}, {-0.7, 0.7}, {-0.7, -0.7}, {0.7, -0.7}};
  double worst = shape_around(run, v);
  if (worst >= poor_shape) return;
  double step = scale * cavum_star_length(&run->star, run->quads, v);
  for (int d = 0; d < NUM_DIRECTIONS; d++) {
    cavum_point at = run->quads->vertices[v];
    run->quads->vertices[v] =
        (cavum_point){at.z_m + step * directions[d][0], at.r_m + step * directions[d][1]};
    double now = shape_around(run, v);
    if (now > worst + least_gain) {
      worst = now;
    } else {
      run->quads->vertices[v] = at;
    }
  }
}

static void relax(smoother *run, int sweeps) {
  for (int sweep = 0; sweep < sweeps; sweep++) {
    double largest = 0.0;
    for (cavum_index v = 0; v < run->quads->num_vertices; v++) {
      double move = 0.0;
      if (run->star.slide[v].kind == CAVUM_SLIDE_FREE) move = move_inner(run, v);
      if (run->star.slide[v].kind == CAVUM_SLIDE_LINE) move = move_along(run, v);
      largest = cavum_max(largest, move);
    }
    if (largest < small_move) return;
  }
}

static void repair(smoother *run, double poor_shape) {
  double scale = 0.15;
  for (int pass = 0; pass < REPAIRS; pass++, scale *= 0.6) {
    for (cavum_index v = 0; v < run->quads->num_vertices; v++) {
      if (run->star.slide[v].kind == CAVUM_SLIDE_FREE) repair_vertex(run, v, scale, poor_shape);
    }
  }
}

cavum_status cavum_quads_smooth(cavum_quads *quads, const cavum_smoothing *smoothing,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  smoother run = {.quads = quads};
  CAVUM_TRY(cavum_star_build(&run.star, quads, error));
  run.slopes = cavum_alloc(quads->num_quads, sizeof *run.slopes);
  if (!run.slopes) CAVUM_TRY(cavum_fail_memory(error));
  find_slopes(&run);
  relax(&run, smoothing->sweeps);
  if (smoothing->poor_shape > 0.0) repair(&run, smoothing->poor_shape);
done:
  free(run.slopes);
  cavum_star_clear(&run.star);
  return status;
}
