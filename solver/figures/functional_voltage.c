// SPDX-License-Identifier: GPL-3.0-or-later
// Voltages: sums over the samples of the outline, or of the axis.
#include "figures/functional_voltage.h"

#include "base/base.h"
#include "figures/line_current.h"

// Direction in which a voltage grows: a phasor of size one.
static cavum_phasor direction_of(const cavum_phasor *voltage) {
  double size = hypot(voltage->re, voltage->im);
  return (cavum_phasor){voltage->re / size, voltage->im / size};
}

// x K_1(x) and x K_0(x) of a current, or 1 and 0 at the speed of light; 0 is left of K_0 on the
// axis, where H_phi vanishes.
typedef struct current_field {
  double xk1, xk0, k0;
} current_field;

static current_field field_of_current(double x, const cavum_line_series *series) {
  cavum_lanes at = {0}, log_at = {0}, xk1, xk0;
  if (x == 0.0) return (current_field){1.0, 0.0, 0.0};
  at[0] = x;
  log_at[0] = log(x);
  cavum_line_slow(&xk1, &xk0, &at, &log_at, 1, series);
  return (current_field){xk1[0], xk0[0], xk0[0] / x};
}

// What the outline sums: h exp(j k_z z) (A r_s - j B z_s) in the direction of the voltage, with A =
// x K_1(x) / beta, B = (kappa / k) x K_0(x), x = kappa r.
typedef struct outline {
  double k_per_m, beta, k_z_per_m, kappa_over_k, origin_m;
  double of_im, of_re;  // how much of the imaginary and the real part of the sum counts
  cavum_line_series series;
} outline;

// Value of a term with weight one; derivatives are those of cavum_trace_gradient and by k.
static double outline_term(cavum_trace_gradient *by, double *by_k, const outline *o,
                           const cavum_trace_point *p, const cavum_trace_h *h) {
  double angle = o->k_z_per_m * (p->z - o->origin_m), c = cos(angle), s = sin(angle);
  double with_r = o->of_im * s + o->of_re * c, with_z = o->of_re * s - o->of_im * c;
  bool slow = o->beta != 1.0;
  double kappa = o->kappa_over_k * o->k_per_m, x = kappa * p->r;
  current_field f = slow ? field_of_current(x, &o->series) : (current_field){1.0, 0.0, 0.0};
  double A = f.xk1 / o->beta, B = o->kappa_over_k * f.xk0;
  // By x, of x K_1 and x K_0.
  double A_x = -f.xk0 / o->beta, B_x = slow ? o->kappa_over_k * (f.k0 - f.xk1) : 0.0;
  double bracket = A * p->r_s * with_r + B * p->z_s * with_z;
  double by_x = A_x * p->r_s * with_r + B_x * p->z_s * with_z;
  double by_angle = -A * p->r_s * with_z + B * p->z_s * with_r;
  *by = (cavum_trace_gradient){.x = h->by_x * bracket,
                               .z = h->h * by_angle * o->k_z_per_m,
                               .r = h->by_r * bracket + h->h * by_x * kappa,
                               .z_s = h->h * B * with_z,
                               .r_s = h->h * A * with_r};
  *by_k = h->h * (by_angle * (p->z - o->origin_m) / o->beta + by_x * o->kappa_over_k * p->r);
  return h->h * bracket;
}

static cavum_trace_gradient scaled(const cavum_trace_gradient *by, double factor) {
  return (cavum_trace_gradient){factor * by->x, factor * by->x_s, factor * by->z,
                                factor * by->r, factor * by->z_s, factor * by->r_s};
}

void cavum_functional_add_outline(cavum_functional *functional, const cavum_view *view,
                                  const cavum_sample_functions *functions, double beta,
                                  const cavum_phasor *voltage) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const cavum_phasor direction = direction_of(voltage);
  // V = scale (im - j re) of the sum, of which a parity leaves one part.
  outline o = {.k_per_m = sqrt(view->field.k2_per_m2),
               .beta = beta,
               .kappa_over_k = sqrt((1.0 - beta) * (1.0 + beta)) / beta,
               .origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh),
               .of_im = direction.re,
               .of_re = -direction.im};
  double scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S;
  o.k_z_per_m = o.k_per_m / beta;
  if (beta != 1.0) cavum_line_fill(&o.series);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    cavum_functional_edge edge = cavum_functional_begin(view, boundary->conducting[i]);
    for (int k = 1; k + 1 < CAVUM_WALL_SAMPLES; k++) {
      double s = boundary->sample[k], weight = scale * boundary->weight[k], by_k;
      const double *value = functions->value[k], *derivative = functions->derivative[k];
      cavum_trace_point p = cavum_functional_at(&edge, s, value, derivative);
      cavum_trace_h h = cavum_functional_h(view, &p);
      cavum_trace_gradient by;
      functional->value += weight * outline_term(&by, &by_k, &o, &p, &h);
      functional->by_k += weight * by_k;
      by = scaled(&by, weight);
      cavum_functional_feel(functional, &edge, s, value, derivative, &by);
    }
    cavum_functional_end(functional, view, &edge);
  }
}

// -(pi / 2) x Y_0(x) and its derivative; on the axis, where H_phi vanishes, both count nothing.
static void uniform_field(double *xy0, double *slope, double x) {
  *xy0 = *slope = 0.0;
  if (x == 0.0) return;
  *xy0 = -0.5 * CAVUM_PI * x * y0(x);
  *slope = -0.5 * CAVUM_PI * (y0(x) - x * y1(x));
}

void cavum_functional_add_outline_integral(cavum_functional *functional, const cavum_view *view,
                                           const cavum_sample_functions *functions,
                                           double integral) {
  const cavum_mesh_boundary *boundary = view->boundary;
  double k_per_m = sqrt(view->field.k2_per_m2);
  double scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S * (integral < 0.0 ? -1.0 : 1.0);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    cavum_functional_edge edge = cavum_functional_begin(view, boundary->conducting[i]);
    for (int k = 1; k + 1 < CAVUM_WALL_SAMPLES; k++) {
      double s = boundary->sample[k], weight = scale * boundary->weight[k], xy0, slope;
      const double *value = functions->value[k], *derivative = functions->derivative[k];
      cavum_trace_point p = cavum_functional_at(&edge, s, value, derivative);
      cavum_trace_h h = cavum_functional_h(view, &p);
      uniform_field(&xy0, &slope, k_per_m * p.r);
      const cavum_trace_gradient by = {.x = weight * h.by_x * p.z_s * xy0,
                                       .r = weight * p.z_s * (h.by_r * xy0 + h.h * slope * k_per_m),
                                       .z_s = weight * h.h * xy0};
      functional->value += weight * h.h * p.z_s * xy0;
      functional->by_k += weight * h.h * p.z_s * slope * p.r;
      cavum_functional_feel(functional, &edge, s, value, derivative, &by);
    }
    cavum_functional_end(functional, view, &edge);
  }
}

// An integral along the axis: of E_z times a weight.
typedef struct axis_integral {
  const cavum_view *view;
  cavum_axis_part part;
  double factor, beta, k_z_per_m, origin_m;
  cavum_phasor direction;
} axis_integral;

// E_z on the axis over x.
static double axis_admittance(const cavum_view *view, cavum_index element) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double eps = CAVUM_EPS0 * mesh->regions[mesh->elements[element].region].eps_r;
  return 2.0 / (view->field.angular_frequency * eps);
}

// Adds one point of the rule with a weight in s.
static void add_axis_point(cavum_functional *functional, const axis_integral *a,
                           cavum_functional_edge *edge, double s, double rule) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  cavum_shape_segment(value, derivative, edge->degree, s);
  cavum_trace_point p = cavum_functional_at(edge, s, value, derivative);
  double k_per_m = sqrt(a->view->field.k2_per_m2);
  double of_x = axis_admittance(a->view, edge->edge.element), e = of_x * p.x;
  double at = p.z - a->origin_m, angle = a->part == CAVUM_AXIS_VOLTAGE ? a->k_z_per_m * at : 0.0;
  double along = a->direction.re * cos(angle) + a->direction.im * sin(angle);
  double by_angle = a->direction.im * cos(angle) - a->direction.re * sin(angle);
  if (a->part == CAVUM_AXIS_SIZES) along = e < 0.0 ? -1.0 : 1.0;
  if (a->part != CAVUM_AXIS_VOLTAGE) by_angle = 0.0;
  // Edges of the axis are run through by rising z: the inside is at the left.
  double weight = rule * a->factor;
  const cavum_trace_gradient by = {.x = weight * of_x * along * p.z_s,
                                   .z = weight * e * by_angle * a->k_z_per_m * p.z_s,
                                   .z_s = weight * e * along};
  functional->value += weight * e * along * p.z_s;
  functional->by_k +=
      weight * e * p.z_s * (by_angle * at / a->beta - along / k_per_m);  // E_z goes as 1 / w
  cavum_functional_feel(functional, edge, s, value, derivative, &by);
}

// Where x changes its sign between two positions, by halving.
static double root_between(const cavum_functional_edge *edge, double low, double high) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  cavum_shape_segment(value, derivative, edge->degree, low);
  bool positive = cavum_functional_at(edge, low, value, derivative).x > 0.0;
  for (int step = 0; step < 50; step++) {
    double middle = 0.5 * (low + high);
    cavum_shape_segment(value, derivative, edge->degree, middle);
    bool same = (cavum_functional_at(edge, middle, value, derivative).x > 0.0) == positive;
    *(same ? &low : &high) = middle;
  }
  return 0.5 * (low + high);
}

// The rule of the samples on a piece of an edge.
static void add_axis_piece(cavum_functional *functional, const axis_integral *a,
                           cavum_functional_edge *edge, double from, double to) {
  const cavum_mesh_boundary *boundary = a->view->boundary;
  double middle = 0.5 * (from + to), half = 0.5 * (to - from);
  for (int k = 1; k + 1 < CAVUM_WALL_SAMPLES; k++) {
    add_axis_point(functional, a, edge, middle + half * boundary->sample[k],
                   half * boundary->weight[k]);
  }
}

static void add_axis_edge(cavum_functional *functional, const axis_integral *a,
                          cavum_functional_edge *edge) {
  const double *sample = a->view->boundary->sample;
  double from = -1.0, before = 0.0;
  for (int k = 0; a->part == CAVUM_AXIS_SIZES && k < CAVUM_WALL_SAMPLES; k++) {
    double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
    cavum_shape_segment(value, derivative, edge->degree, sample[k]);
    double x = cavum_functional_at(edge, sample[k], value, derivative).x;
    if (k > 0 && x * before < 0.0) {
      double root = root_between(edge, sample[k - 1], sample[k]);
      add_axis_piece(functional, a, edge, from, root);
      from = root;
    }
    before = x;
  }
  add_axis_piece(functional, a, edge, from, 1.0);
}

void cavum_functional_add_axis(cavum_functional *functional, const cavum_view *view,
                               cavum_axis_part part, double factor, double beta,
                               const cavum_phasor *voltage) {
  const cavum_mesh_boundary *boundary = view->boundary;
  axis_integral a = {.view = view,
                     .part = part,
                     .factor = factor * view->copies,
                     .beta = beta,
                     .k_z_per_m = sqrt(view->field.k2_per_m2) / beta,
                     .origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh),
                     .direction = {1.0, 0.0}};
  if (part == CAVUM_AXIS_VOLTAGE) a.direction = direction_of(voltage);
  if (part == CAVUM_AXIS_INTEGRAL && voltage->re < 0.0) a.direction.re = -1.0;
  for (cavum_index i = 0; i < boundary->num_axis; i++) {
    cavum_functional_edge edge = cavum_functional_begin(view, boundary->axis[i]);
    add_axis_edge(functional, &a, &edge);
    cavum_functional_end(functional, view, &edge);
  }
}

static double beta_term(const cavum_view *view, cavum_boundary_edge of, int k, double beta,
                        double origin_m, const cavum_phasor *direction) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  double s = view->boundary->sample[k], k_per_m = sqrt(view->field.k2_per_m2);
  cavum_functional_edge edge = cavum_functional_begin(view, of);
  cavum_shape_segment(value, derivative, edge.degree, s);
  cavum_trace_point p = cavum_functional_at(&edge, s, value, derivative);
  double at = p.z - origin_m, angle = k_per_m * at / beta;
  double by_angle = direction->im * cos(angle) - direction->re * sin(angle);
  return -view->boundary->weight[k] * axis_admittance(view, of.element) * p.x * p.z_s * by_angle *
         k_per_m * at / (beta * beta);
}

void cavum_functional_add_beta(cavum_functional *functional, const cavum_view *view, double beta,
                               const cavum_phasor *voltage) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const cavum_phasor direction = direction_of(voltage);
  double origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh);
  for (cavum_index i = 0; i < boundary->num_axis; i++) {
    for (int k = 1; k + 1 < CAVUM_WALL_SAMPLES; k++) {
      functional->by_beta +=
          view->copies * beta_term(view, boundary->axis[i], k, beta, origin_m, &direction);
    }
  }
}
