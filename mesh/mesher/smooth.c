// SPDX-License-Identifier: GPL-3.0-or-later
// Smoothing. The distortion of a quadrilateral is taken at its corners, from the derivatives of the
// map there: the sum of cot^2 of the corner angles, which only right angles make zero, and the
// product of mean det J and mean 1/det J, which only a constant Jacobian makes one. Both are blind
// to the aspect ratio, which costs polynomials of high degree nothing. Inner vertices take Newton
// steps in the plane, vertices on straight pieces of the contour along it. What is still poor then,
// measured densely, is repaired by trial steps.
#include "mesher/smooth.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "base/stop.h"
#include "mesher/star.h"

enum { HALVINGS = 3, REPAIRS = 4, NUM_DIRECTIONS = 8, SAMPLES = 5 };
// Weight of the variation of the Jacobian against the corner angles.
static const double VARIATION_WEIGHT = 2.0;
// Rounds the corner where a sine becomes negative, so that folded elements unfold.
static const double SINE_ROUNDING = 0.05;
// Differences for derivatives, longest step and the move that ends the sweeps, over a side length.
static const double DIFFERENCE_STEP = 1e-3, LONGEST_STEP = 0.3, SMALL_MOVE = 5e-3;
// A vertex keeps this part of a straight piece between its neighbours on both of its sides.
static const double SLIDE_MARGIN = 0.25;
// A trial step must win this much.
static const double LEAST_GAIN = 1e-3;

// What one run needs.
typedef struct smoother {
  cavum_quads *quads;
  cavum_star star;
  cavum_point (*slopes)[4][2];  // owned, [num_quads]: derivatives of sides at their ends
} smoother;

// Positions of one vertex that are tried together, one to a lane.
typedef struct tries {
  cavum_lanes z, r;
} tries;

static inline __attribute__((always_inline)) tries at_rest(cavum_point p) {
  return (tries){(cavum_lanes){0} + p.z_m, (cavum_lanes){0} + p.r_m};
}

// Directions in which a quadrilateral leaves one of its corners.
typedef struct corner_sides {
  cavum_lanes a_z, a_r, b_z, b_r;
} corner_sides;

// Half the way to the next and to the last corner on straight sides, slopes on curves.
static inline __attribute__((always_inline)) void find_sides(corner_sides *side,
                                                             const smoother *run, cavum_index q,
                                                             const tries corner[4], int k) {
  const cavum_quad *quad = &run->quads->quads[q];
  int before = (k + 3) & 3, after = (k + 1) & 3;
  if (quad->curve[k] < 0) {
    side->a_z = 0.5 * (corner[after].z - corner[k].z);
    side->a_r = 0.5 * (corner[after].r - corner[k].r);
  } else {
    side->a_z = (cavum_lanes){0} + run->slopes[q][k][0].z_m;
    side->a_r = (cavum_lanes){0} + run->slopes[q][k][0].r_m;
  }
  if (quad->curve[before] < 0) {
    side->b_z = 0.5 * (corner[before].z - corner[k].z);
    side->b_r = 0.5 * (corner[before].r - corner[k].r);
  } else {
    side->b_z = (cavum_lanes){0} - run->slopes[q][before][1].z_m;
    side->b_r = (cavum_lanes){0} - run->slopes[q][before][1].r_m;
  }
}

static inline __attribute__((always_inline)) void take_roots(cavum_lanes *x) {
  double root[CAVUM_LANES];
  for (int l = 0; l < CAVUM_LANES; l++) root[l] = (*x)[l];
  for (int l = 0; l < CAVUM_LANES; l++) root[l] = sqrt(root[l]);
  for (int l = 0; l < CAVUM_LANES; l++) (*x)[l] = root[l];
}

// Adds the distortion of a quadrilateral with its vertex v at each of the tried positions.
CAVUM_FAST static void add_distortion(cavum_lanes *total, const smoother *run, cavum_index q,
                                      cavum_index v, const tries *tried) {
  const cavum_quad *quad = &run->quads->quads[q];
  tries corner[4];
  cavum_lanes angles = {0}, sum = {0}, inverse = {0};
  for (int k = 0; k < 4; k++) {
    corner[k] = quad->vertex[k] == v ? *tried : at_rest(run->quads->vertices[quad->vertex[k]]);
  }
  for (int k = 0; k < 4; k++) {
    corner_sides s;
    find_sides(&s, run, q, corner, k);
    cavum_lanes norm = (s.a_z * s.a_z + s.a_r * s.a_r) * (s.b_z * s.b_z + s.b_r * s.b_r);
    take_roots(&norm);
    norm += 1e-300;
    cavum_lanes sine = (s.a_z * s.b_r - s.a_r * s.b_z) / norm;
    cavum_lanes root = sine * sine + 4.0 * SINE_ROUNDING * SINE_ROUNDING;
    take_roots(&root);
    sine = 0.5 * (sine + root);
    angles += 1.0 / (sine * sine);
    sum += sine * norm;
    inverse += 1.0 / (sine * norm);
  }
  *total += angles + VARIATION_WEIGHT * sum * inverse / 16.0;
}

static void distortion_around(cavum_lanes *total, const smoother *run, cavum_index v,
                              const tries *tried) {
  *total = (cavum_lanes){0};
  for (cavum_index i = run->star.start[v]; i < run->star.start[v + 1]; i++) {
    add_distortion(total, run, run->star.list[i], v, tried);
  }
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

// Newton step from the distortion at a centre and at steps h around it: (0, 0), (h, 0), (-h, 0),
// (0, h), (0, -h), (h, h); downhill where the second derivatives do not allow it.
static cavum_point newton_step(const cavum_lanes *f, double h, double length) {
  double gz = 0.5 * ((*f)[1] - (*f)[2]) / h, gr = 0.5 * ((*f)[3] - (*f)[4]) / h;
  double hzz = ((*f)[1] - 2.0 * (*f)[0] + (*f)[2]) / (h * h);
  double hrr = ((*f)[3] - 2.0 * (*f)[0] + (*f)[4]) / (h * h);
  double hzr = ((*f)[5] - (*f)[1] - (*f)[3] + (*f)[0]) / (h * h), det = hzz * hrr - hzr * hzr;
  cavum_point step;
  if (hzz > 0.0 && det > 1e-6 * hzz * hrr) {
    step = (cavum_point){-(hrr * gz - hzr * gr) / det, -(hzz * gr - hzr * gz) / det};
  } else {
    double norm = hypot(gz, gr) + 1e-300;
    step = (cavum_point){-0.1 * length * gz / norm, -0.1 * length * gr / norm};
  }
  double far = hypot(step.z_m, step.r_m), most = LONGEST_STEP * length;
  if (far > most) step = (cavum_point){step.z_m * most / far, step.r_m * most / far};
  return step;
}

// Moves an inner vertex downhill; returns the move over the side length.
static double move_inner(smoother *run, cavum_index v) {
  static const double around[CAVUM_LANES][2] = {{0, 0},  {1, 0}, {-1, 0}, {0, 1},
                                                {0, -1}, {1, 1}, {0, 0},  {0, 0}};
  double length = cavum_star_length(&run->star, run->quads, v), h = DIFFERENCE_STEP * length;
  cavum_point at = run->quads->vertices[v];
  tries tried = at_rest(at);
  cavum_lanes f;
  for (int l = 0; l < CAVUM_LANES; l++) {
    tried.z[l] += h * around[l][0];
    tried.r[l] += h * around[l][1];
  }
  distortion_around(&f, run, v, &tried);
  cavum_point step = newton_step(&f, h, length);
  double now = f[0], part = 1.0;
  for (int l = 0; l < CAVUM_LANES; l++, part *= 0.25) {  // the whole step, a quarter of it, ...
    tried.z[l] = at.z_m + part * step.z_m;
    tried.r[l] = at.r_m + part * step.r_m;
  }
  distortion_around(&f, run, v, &tried);
  part = 1.0;
  for (int l = 0; l <= HALVINGS; l++, part *= 0.25) {
    if (!(f[l] < now)) continue;
    run->quads->vertices[v] = (cavum_point){tried.z[l], tried.r[l]};
    return part * hypot(step.z_m, step.r_m) / length;
  }
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
  tries tried = at_rest(run->quads->vertices[v]);
  cavum_lanes f;
  distortion_around(&f, run, v, &tried);
  return f[0];
}

// Moves a vertex along its straight piece; returns the move over the piece between its neighbours.
static double move_along(smoother *run, cavum_index v) {
  const cavum_slide *slide = &run->star.slide[v];
  double low, high, t = slide->t;
  cavum_star_range(&low, &high, &run->star, run->quads, v);
  double range = high - low, h = DIFFERENCE_STEP * range, limit = SLIDE_MARGIN * range;
  double f0 = at_parameter(run, v, t);
  double f1 = at_parameter(run, v, t + h), f2 = at_parameter(run, v, t - h);
  double slope = 0.5 * (f1 - f2) / h, bend = (f1 - 2.0 * f0 + f2) / (h * h);
  double step = bend > 0.0 ? -slope / bend : (slope > 0.0 ? -0.1 : 0.1) * range;
  step = cavum_max(-LONGEST_STEP * range, cavum_min(LONGEST_STEP * range, step));
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
    if (now > worst + LEAST_GAIN) {
      worst = now;
    } else {
      run->quads->vertices[v] = at;
    }
  }
}

static void relax(smoother *run, int sweeps) {
  for (int sweep = 0; sweep < sweeps; sweep++) {
    double largest = 0.0;
    for (cavum_index v = 0; v < run->quads->num_vertices && !cavum_stop_asked(); v++) {
      double move = 0.0;
      if (run->star.slide[v].kind == CAVUM_SLIDE_FREE) move = move_inner(run, v);
      if (run->star.slide[v].kind == CAVUM_SLIDE_LINE) move = move_along(run, v);
      largest = cavum_max(largest, move);
    }
    if (largest < SMALL_MOVE) return;
  }
}

static void repair(smoother *run, double poor_shape) {
  double scale = 0.15;
  for (int pass = 0; pass < REPAIRS; pass++, scale *= 0.6) {
    for (cavum_index v = 0; v < run->quads->num_vertices && !cavum_stop_asked(); v++) {
      if (run->star.slide[v].kind == CAVUM_SLIDE_FREE) repair_vertex(run, v, scale, poor_shape);
    }
  }
}

cavum_status cavum_smooth_quads(cavum_quads *quads, const cavum_smoothing *smoothing,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  smoother run = {.quads = quads};
  CAVUM_TRY(cavum_star_build(&run.star, quads, error));
  run.slopes = cavum_alloc(quads->num_quads, sizeof *run.slopes);
  if (!run.slopes) CAVUM_TRY(cavum_fail_memory(error));
  find_slopes(&run);
  relax(&run, smoothing->sweeps);
  if (smoothing->poor_shape > 0.0) repair(&run, smoothing->poor_shape);
  CAVUM_TRY(cavum_stop_check(error));
done:
  free(run.slopes);
  cavum_star_clear(&run.star);
  return status;
}
