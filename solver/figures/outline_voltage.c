// SPDX-License-Identifier: GPL-3.0-or-later
// Voltage by reciprocity.
#include "figures/outline_voltage.h"

#include "base/base.h"
#include "base/fast.h"
#include "base/lanes.h"
#include "figures/line_current.h"
#include "figures/phases.h"

enum { VECTORS = CAVUM_WALL_SAMPLES / CAVUM_LANES };
// Phase along half an edge up to which the rule of the samples is exact to 1e-12 at any degree.
static const double PHASE_MOST = 8.0;

// Where the outline meets the axis squarely, r^3 log r is left in the integral, to which the rule
// is good to 1.4e-11 of the largest value. Against the sum over the edge the error was 2 to 20
// times that on closed boxes and capsules at beta 0.25 to 0.75.
static const double LOGARITHM_ERROR = 3e-10;
// Voltages that this or rounding spoils more than that are left to the axis.
static const double ERROR_MOST = 3e-11;

// What multiplies the phases exp(j k_z z) at the samples of an edge: the parts with dr and with dz.
typedef struct edge_weights {
  cavum_lanes across[VECTORS], along[VECTORS];
} edge_weights;

static const cavum_lanes_anywhere *lanes_of(const double *samples) {
  return (const cavum_lanes_anywhere *)samples;
}

// Sums of weights times (cos, sin) of angles, all samples of an edge.
CAVUM_FAST static void add_edge(double *restrict re, double *restrict im,
                                const edge_weights *restrict w, const cavum_lanes *restrict cosine,
                                const cavum_lanes *restrict sine) {
  cavum_sum sum_re = {0}, sum_im = {0};
  for (int v = 0; v < VECTORS; v++) {
    cavum_lanes of_re = w->across[v] * cosine[v] + w->along[v] * sine[v];
    cavum_lanes of_im = w->across[v] * sine[v] - w->along[v] * cosine[v];
    cavum_sum_take(&sum_re, &of_re);
    cavum_sum_take(&sum_im, &of_im);
  }
  for (int l = 0; l < CAVUM_LANES / 2; l++) {
    *re += sum_re.low[l] + sum_re.high[l];
    *im += sum_im.low[l] + sum_im.high[l];
  }
}

static bool is_closed(const cavum_view *view) {
  const cavum_mesh_boundary *boundary = view->boundary;
  // A plane of symmetry is a part of the outline unless the other half is behind it.
  bool plane_is_outline = view->parity == CAVUM_PARITY_NONE && boundary->has_mirror_plane;
  return boundary->is_empty_and_closed && !plane_is_outline;
}

// Where the outline meets the axis askew, r^2 log r is left in the integral over dz.
static bool has_smooth_weights(const cavum_mesh_boundary *boundary, double k_z_per_m) {
  return boundary->meets_axis_squarely && k_z_per_m * boundary->longest_s <= PHASE_MOST;
}

// Arguments of Bessel functions and their logarithms.
static void scale_radii(cavum_lanes *x, cavum_lanes *log_x, const cavum_wall_shape *shape,
                        double per_m) {
  double log_scale = log(per_m);
  for (int v = 0; v < VECTORS; v++) {
    x[v] = per_m * lanes_of(shape->r_m)[v];
    log_x[v] = log_scale + lanes_of(shape->log_r)[v];
  }
}

// The current on the axis, and what its field needs; nothing at the speed of light.
typedef struct current {
  double beta, k_z_per_m, kappa_per_m, kappa_over_k;
  cavum_line_series series;
} current;

static current make_current(double k_per_m, double beta) {
  double kappa_over_k = sqrt((1.0 - beta) * (1.0 + beta)) / beta;
  current c = {.beta = beta,
               .k_z_per_m = k_per_m / beta,
               .kappa_per_m = kappa_over_k * k_per_m,
               .kappa_over_k = kappa_over_k};
  if (beta != 1.0) cavum_line_fill(&c.series);
  return c;
}

static double size_of(const edge_weights *w) {
  double size = 0.0;
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    size += fabs(w->across[k / CAVUM_LANES][k % CAVUM_LANES]);
    size += fabs(w->along[k / CAVUM_LANES][k % CAVUM_LANES]);
  }
  return size;
}

// From the weights at the speed of light to those of slower particles; gives their errors.
static double slow_down(edge_weights *w, const cavum_wall_shape *shape, const current *c) {
  cavum_lanes x[VECTORS], log_x[VECTORS], xk1[VECTORS], xk0[VECTORS];
  double largest_x = c->kappa_per_m * shape->largest_r_m;
  double rounding = cavum_line_rounding(largest_x) / c->beta * size_of(w);
  scale_radii(x, log_x, shape, c->kappa_per_m);
  cavum_line_slow(xk1, xk0, x, log_x, VECTORS, &c->series);
  for (int v = 0; v < VECTORS; v++) {
    w->across[v] *= xk1[v] * (1.0 / c->beta);
    w->along[v] *= xk0[v] * c->kappa_over_k;
  }
  double logarithm = LOGARITHM_ERROR * 0.5 * largest_x * largest_x * size_of(w);
  return rounding + (shape->meets_axis ? logarithm : 0.0);
}

// Re and im of the sum over edges, the size of all that is summed, and its error.
typedef struct outline_sum {
  double re, im, size, error;
} outline_sum;

static void add_wall(outline_sum *sum, const cavum_mesh_boundary *boundary, cavum_index i,
                     const cavum_wall_samples *samples, const current *c, double origin_m) {
  const cavum_wall_shape *shape = &boundary->shape[i];
  const double is_slow = c->beta != 1.0 ? 1.0 : 0.0;
  cavum_lanes angle[VECTORS], cosine[VECTORS], sine[VECTORS];
  edge_weights w;
  for (int v = 0; v < VECTORS; v++) {
    cavum_lanes part = lanes_of(boundary->weight)[v] * lanes_of(samples[i].h)[v];
    w.across[v] = part * lanes_of(shape->r_s)[v];
    w.along[v] = is_slow * part * lanes_of(shape->z_s)[v];
    angle[v] = c->k_z_per_m * (lanes_of(shape->z_m)[v] - origin_m);
  }
  if (c->beta != 1.0) sum->error += slow_down(&w, shape, c);
  double size = size_of(&w);
  if (size == 0.0) return;  // along the axis
  cavum_phases(cosine, sine, angle, VECTORS);
  add_edge(&sum->re, &sum->im, &w, cosine, sine);
  sum->size += size;
}

bool cavum_outline_voltage(cavum_phasor *voltage, double *of_abs, const cavum_view *view,
                           const cavum_wall_samples *samples, double beta) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const current c = make_current(sqrt(view->field.k2_per_m2), beta);
  double origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  outline_sum sum = {0};
  if (!is_closed(view) || (beta != 1.0 && !has_smooth_weights(boundary, c.k_z_per_m))) return false;
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    add_wall(&sum, boundary, i, samples, &c, origin_m);
  }
  // The mirrored half as in cavum_axis_voltage().
  if (view->parity == CAVUM_PARITY_EVEN) sum.re = 0.0;
  if (view->parity == CAVUM_PARITY_ODD) sum.im = 0.0;
  double scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S;
  *of_abs = scale * sum.size;
  *voltage = (cavum_phasor){scale * sum.im, -scale * sum.re};  // -j (re + j im)
  return sum.error <= ERROR_MOST * hypot(sum.re, sum.im);
}

bool cavum_outline_integral(double *integral, double *of_abs, const cavum_view *view,
                            const cavum_wall_samples *samples) {
  const cavum_mesh_boundary *boundary = view->boundary;
  double k_per_m = sqrt(view->field.k2_per_m2), sum = 0.0, size = 0.0;
  cavum_line_series series;
  if (!is_closed(view) || !has_smooth_weights(boundary, k_per_m)) return false;
  cavum_line_fill(&series);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    const cavum_wall_shape *shape = &boundary->shape[i];
    cavum_lanes x[VECTORS], log_x[VECTORS], xy0[VECTORS], part = {0};
    scale_radii(x, log_x, shape, k_per_m);
    cavum_line_uniform(xy0, x, log_x, VECTORS, &series);
    for (int v = 0; v < VECTORS; v++) {
      part += lanes_of(boundary->weight)[v] * lanes_of(samples[i].h)[v] * lanes_of(shape->z_s)[v] *
              xy0[v];
    }
    for (int l = 0; l < CAVUM_LANES; l++) {
      sum += part[l];
      size += fabs(part[l]);
    }
  }
  if (view->parity == CAVUM_PARITY_ODD) sum = 0.0;
  double scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S;
  *integral = scale * sum;
  *of_abs = scale * size;
  return true;
}
