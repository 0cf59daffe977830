// SPDX-License-Identifier: GPL-3.0-or-later
// Voltage by reciprocity.
#include "outline_voltage.h"

#include "base.h"
#include "fast.h"
#include "lanes.h"
#include "line_current.h"
#include "phases.h"

enum { VECTORS = CAVUM_WALL_LOOKS / CAVUM_LANES };
// Phase along half an edge up to which the rule of the looks is exact to 1e-12 at any degree.
static const double PHASE_MOST = 8.0;

// Where the outline meets the axis squarely, r^3 log r is left in the integral over dr, to which
// the rule is good to this part of the largest value; voltages that it spoils more than that are
// left to the axis.
static const double LOGARITHM_ERROR = 1.5e-11, ERROR_MOST = 1e-11;

// What multiplies the phases exp(j k_z z) at the looks of an edge: the parts with dr and with dz.
typedef struct edge_weights {
  cavum_lanes across[VECTORS], along[VECTORS];
} edge_weights;

static const cavum_lanes_anywhere *lanes_of(const double *looks) {
  return (const cavum_lanes_anywhere *)looks;
}

// Sums of weights times (cos, sin) of angles, all looks of an edge.
CAVUM_FAST static void add_edge(double *restrict re, double *restrict im,
                                const edge_weights *restrict w, const cavum_lanes *restrict cosine,
                                const cavum_lanes *restrict sine) {
  cavum_lanes sum_re = {0}, sum_im = {0};
  for (int v = 0; v < VECTORS; v++) {
    sum_re += w->across[v] * cosine[v] + w->along[v] * sine[v];
    sum_im += w->across[v] * sine[v] - w->along[v] * cosine[v];
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    *re += sum_re[l];
    *im += sum_im[l];
  }
}

static bool is_closed(const cavum_view *view) {
  const cavum_sides *sides = view->sides;
  // A plane of symmetry is a part of the outline unless the other half is behind it.
  bool plane_is_outline = view->parity == CAVUM_PARITY_NONE && sides->has_mirror_plane;
  return sides->is_empty_and_closed && !plane_is_outline;
}

// Where the outline meets the axis askew, r^2 log r is left in the integral over dz.
static bool has_smooth_weights(const cavum_sides *sides, double k_z_per_m) {
  return sides->meets_axis_squarely && k_z_per_m * sides->longest_s <= PHASE_MOST;
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

// The weights of an edge at the speed of light, and times what slower particles need.
static void weigh(edge_weights *w, const cavum_sides *sides, cavum_index i,
                  const cavum_wall_looks *looks, double k_per_m, double beta,
                  const cavum_line_series *series) {
  const cavum_wall_shape *shape = &sides->shape[i];
  double kappa_over_k = sqrt((1.0 - beta) * (1.0 + beta)) / beta;
  cavum_lanes x[VECTORS], log_x[VECTORS], xk1[VECTORS], xk0[VECTORS];
  for (int v = 0; v < VECTORS; v++) {
    cavum_lanes part = lanes_of(sides->weight)[v] * lanes_of(looks[i].h)[v];
    w->across[v] = part * lanes_of(shape->r_s)[v];
    w->along[v] = part * lanes_of(shape->z_s)[v];
  }
  scale_radii(x, log_x, shape, kappa_over_k * k_per_m);
  cavum_line_slow(xk1, xk0, x, log_x, VECTORS, series);
  for (int v = 0; v < VECTORS; v++) {
    w->across[v] *= xk1[v] * (1.0 / beta);
    w->along[v] *= xk0[v] * kappa_over_k;
  }
}

static void weigh_light(edge_weights *w, const cavum_sides *sides, cavum_index i,
                        const cavum_wall_looks *looks) {
  for (int v = 0; v < VECTORS; v++) {
    cavum_lanes part = lanes_of(sides->weight)[v] * lanes_of(looks[i].h)[v];
    w->across[v] = part * lanes_of(sides->shape[i].r_s)[v];
    w->along[v] = (cavum_lanes){0};
  }
}

static double size_of(const edge_weights *w) {
  double size = 0.0;
  for (int k = 0; k < CAVUM_WALL_LOOKS; k++) {
    size += fabs(w->across[k / CAVUM_LANES][k % CAVUM_LANES]);
    size += fabs(w->along[k / CAVUM_LANES][k % CAVUM_LANES]);
  }
  return size;
}

// Error that the logarithm at the axis leaves in the sum over an edge of a given size.
static double error_at_axis(const cavum_wall_shape *shape, double kappa_per_m, double size) {
  double x = kappa_per_m * cavum_max(shape->r_m[0], shape->r_m[CAVUM_WALL_LOOKS - 1]);
  return shape->meets_axis ? LOGARITHM_ERROR * 0.5 * x * x * size : 0.0;
}

bool cavum_outline_voltage(cavum_phasor *voltage, double *of_abs, const cavum_view *view,
                           const cavum_wall_looks *looks, double beta) {
  const cavum_sides *sides = view->sides;
  double k_per_m = sqrt(view->field.k2_per_m2), re = 0.0, im = 0.0, sum_abs = 0.0, error = 0.0;
  double kappa_per_m = k_per_m / beta * sqrt((1.0 - beta) * (1.0 + beta));
  double origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  double z0_ohm = CAVUM_MU0 * CAVUM_C_M_PER_S;
  cavum_line_series series;
  if (!is_closed(view)) return false;
  if (beta != 1.0 && !has_smooth_weights(sides, k_per_m / beta)) return false;
  if (beta != 1.0) cavum_line_fill(&series);
  for (cavum_index i = 0; i < sides->num_conducting; i++) {
    cavum_lanes angle[VECTORS], cosine[VECTORS], sine[VECTORS];
    edge_weights w;
    if (beta == 1.0) weigh_light(&w, sides, i, looks);
    if (beta != 1.0) weigh(&w, sides, i, looks, k_per_m, beta, &series);
    double size = size_of(&w);
    if (size == 0.0) continue;  // along the axis
    for (int v = 0; v < VECTORS; v++) {
      angle[v] = k_per_m / beta * (lanes_of(sides->shape[i].z_m)[v] - origin_m);
    }
    cavum_phases(cosine, sine, angle, VECTORS);
    add_edge(&re, &im, &w, cosine, sine);
    sum_abs += size;
    error += error_at_axis(&sides->shape[i], kappa_per_m, size);
  }
  // The mirrored half as in cavum_axis_voltage().
  if (view->parity == CAVUM_PARITY_EVEN) re = 0.0;
  if (view->parity == CAVUM_PARITY_ODD) im = 0.0;
  double scale = view->copies * z0_ohm;
  *of_abs = scale * sum_abs;
  *voltage = (cavum_phasor){scale * im, -scale * re};  // -j (re + j im)
  return error <= ERROR_MOST * hypot(re, im);
}

bool cavum_outline_integral(double *integral, const cavum_view *view,
                            const cavum_wall_looks *looks) {
  const cavum_sides *sides = view->sides;
  double k_per_m = sqrt(view->field.k2_per_m2), sum = 0.0;
  cavum_line_series series;
  if (!is_closed(view) || !has_smooth_weights(sides, k_per_m)) return false;
  cavum_line_fill(&series);
  for (cavum_index i = 0; i < sides->num_conducting; i++) {
    const cavum_wall_shape *shape = &sides->shape[i];
    cavum_lanes x[VECTORS], log_x[VECTORS], xy0[VECTORS], part = {0};
    scale_radii(x, log_x, shape, k_per_m);
    cavum_line_uniform(xy0, x, log_x, VECTORS, &series);
    for (int v = 0; v < VECTORS; v++) {
      part +=
          lanes_of(sides->weight)[v] * lanes_of(looks[i].h)[v] * lanes_of(shape->z_s)[v] * xy0[v];
    }
    for (int l = 0; l < CAVUM_LANES; l++) sum += part[l];
  }
  if (view->parity == CAVUM_PARITY_ODD) sum = 0.0;
  *integral = -0.5 * CAVUM_PI * CAVUM_MU0 * CAVUM_C_M_PER_S * view->copies * sum;
  return true;
}
