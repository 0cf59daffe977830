// SPDX-License-Identifier: GPL-3.0-or-later
// Voltages: sums over the samples of the outline, or of the axis.
#include "figures/functional_voltage.h"

#include "base/base.h"
#include "base/fast.h"
#include "figures/line_current.h"
#include "figures/phases.h"

// Direction in which a voltage grows: a phasor of size one.
static cavum_phasor direction_of(const cavum_phasor *voltage) {
  double size = hypot(voltage->re, voltage->im);
  return (cavum_phasor){voltage->re / size, voltage->im / size};
}

// What the outline sums: h exp(j k_z z) (A r_s - j B z_s) in the direction of the voltage, with A =
// x K_1(x) / beta, B = (kappa / k) x K_0(x), x = kappa r.
typedef struct outline {
  double k_per_m, beta, k_z_per_m, kappa_over_k, origin_m, scale;
  double of_im, of_re;  // how much of the imaginary and the real part of the sum counts
  const double *weights;
  cavum_line_series series;
} outline;

// A, B and their derivatives by x at the samples of an edge.
typedef struct current_field {
  cavum_lanes A[CAVUM_WALL_VECTORS], B[CAVUM_WALL_VECTORS];
  cavum_lanes A_x[CAVUM_WALL_VECTORS], B_x[CAVUM_WALL_VECTORS];
} current_field;

// Arguments of Bessel functions and their logarithms.
static void scale_radii(cavum_lanes *x, cavum_lanes *log_x, const cavum_wall_shape *shape,
                        double per_m) {
  double log_scale = log(per_m);
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    x[v] = per_m * cavum_wall_lanes(shape->r_m)[v];
    log_x[v] = log_scale + cavum_wall_lanes(shape->log_r)[v];
  }
}

// At the speed of light A is one. On the axis, where H_phi vanishes, K_0 counts nothing.
static void fill_current(current_field *f, const outline *o, const cavum_wall_shape *shape) {
  cavum_lanes x[CAVUM_WALL_VECTORS], log_x[CAVUM_WALL_VECTORS];
  cavum_lanes xk1[CAVUM_WALL_VECTORS], xk0[CAVUM_WALL_VECTORS], none = {0};
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    f->A[v] = none + 1.0;
    f->B[v] = f->A_x[v] = f->B_x[v] = none;
  }
  if (o->beta == 1.0) return;
  scale_radii(x, log_x, shape, o->kappa_over_k * o->k_per_m);
  cavum_line_slow(xk1, xk0, x, log_x, CAVUM_WALL_VECTORS, &o->series);
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes k0 = xk0[v];
    for (int l = 0; l < CAVUM_LANES; l++) k0[l] = x[v][l] > 0.0 ? k0[l] / x[v][l] : 0.0;
    f->A[v] = xk1[v] / o->beta;
    f->B[v] = o->kappa_over_k * xk0[v];
    f->A_x[v] = -xk0[v] / o->beta;
    f->B_x[v] = o->kappa_over_k * (k0 - xk1[v]);
  }
}

// Sums of one edge: of the value and of its derivative by k.
CAVUM_FAST static void outline_terms(cavum_wall_gradient *restrict gradient, double *restrict value,
                                     double *restrict by_k, const outline *restrict o,
                                     const cavum_wall_trace *restrict at,
                                     const cavum_wall_shape *restrict shape,
                                     const current_field *restrict f,
                                     const cavum_lanes *restrict cosine,
                                     const cavum_lanes *restrict sine) {
  cavum_lanes all = {0}, all_by_k = {0};
  double kappa = o->kappa_over_k * o->k_per_m;
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes weight = o->scale * cavum_wall_lanes(o->weights)[v];
    cavum_lanes z_s = cavum_wall_lanes(shape->z_s)[v], r_s = cavum_wall_lanes(shape->r_s)[v];
    cavum_lanes with_r = o->of_im * sine[v] + o->of_re * cosine[v];
    cavum_lanes with_z = o->of_re * sine[v] - o->of_im * cosine[v], h = weight * at->h[v];
    cavum_lanes bracket = f->A[v] * r_s * with_r + f->B[v] * z_s * with_z;
    cavum_lanes by_x = f->A_x[v] * r_s * with_r + f->B_x[v] * z_s * with_z;
    cavum_lanes by_angle = f->B[v] * z_s * with_r - f->A[v] * r_s * with_z;
    gradient->x[v] = weight * at->h_by_x[v] * bracket;
    gradient->z[v] = h * by_angle * o->k_z_per_m;
    gradient->r[v] = weight * at->h_by_r[v] * bracket + h * by_x * kappa;
    gradient->z_s[v] = h * f->B[v] * with_z;
    gradient->r_s[v] = h * f->A[v] * with_r;
    all += h * bracket;
    all_by_k += h * (by_angle * (cavum_wall_lanes(shape->z_m)[v] - o->origin_m) / o->beta +
                     by_x * o->kappa_over_k * cavum_wall_lanes(shape->r_m)[v]);
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    *value += all[l];
    *by_k += all_by_k[l];
  }
}

void cavum_functional_add_outline(cavum_functional *functional, const cavum_view *view,
                                  const cavum_wall_traces *traces, double beta,
                                  const cavum_phasor *voltage) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const cavum_phasor direction = direction_of(voltage);
  // V = scale (im - j re) of the sum, of which a parity leaves one part.
  outline o = {.k_per_m = sqrt(view->field.k2_per_m2),
               .beta = beta,
               .kappa_over_k = sqrt((1.0 - beta) * (1.0 + beta)) / beta,
               .origin_m = cavum_mesh_mirror_plane_m(view->field.discretisation->mesh),
               .scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S,
               .of_im = direction.re,
               .of_re = -direction.im,
               .weights = boundary->weight};
  o.k_z_per_m = o.k_per_m / beta;
  if (beta != 1.0) cavum_line_fill(&o.series);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    const cavum_wall_shape *shape = &boundary->shape[i];
    cavum_lanes angle[CAVUM_WALL_VECTORS], cosine[CAVUM_WALL_VECTORS], sine[CAVUM_WALL_VECTORS];
    current_field f;
    cavum_wall_gradient gradient;
    for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
      angle[v] = o.k_z_per_m * (cavum_wall_lanes(shape->z_m)[v] - o.origin_m);
    }
    cavum_phases(cosine, sine, angle, CAVUM_WALL_VECTORS);
    fill_current(&f, &o, shape);
    outline_terms(&gradient, &functional->value, &functional->by_k, &o, &traces->edges[i], shape,
                  &f, cosine, sine);
    cavum_functional_add_wall(functional, view, traces, i, &gradient);
  }
}

// The same for h z_s f(k r), f = -(pi / 2) x Y_0(x); on the axis, where H_phi vanishes, it counts
// nothing.
CAVUM_FAST static void integral_terms(cavum_wall_gradient *restrict gradient,
                                      double *restrict value, double *restrict by_k, double scale,
                                      double k_per_m, const double *restrict weights,
                                      const cavum_wall_trace *restrict at,
                                      const cavum_wall_shape *restrict shape,
                                      const cavum_lanes *restrict xy0,
                                      const cavum_lanes *restrict slope) {
  cavum_lanes all = {0}, all_by_k = {0};
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes weight = scale * cavum_wall_lanes(weights)[v], h = weight * at->h[v];
    cavum_lanes z_s = cavum_wall_lanes(shape->z_s)[v];
    gradient->x[v] = weight * at->h_by_x[v] * z_s * xy0[v];
    gradient->z[v] = gradient->r_s[v] = (cavum_lanes){0};
    gradient->r[v] = z_s * (weight * at->h_by_r[v] * xy0[v] + h * slope[v] * k_per_m);
    gradient->z_s[v] = h * xy0[v];
    all += h * z_s * xy0[v];
    all_by_k += h * z_s * slope[v] * cavum_wall_lanes(shape->r_m)[v];
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    *value += all[l];
    *by_k += all_by_k[l];
  }
}

void cavum_functional_add_outline_integral(cavum_functional *functional, const cavum_view *view,
                                           const cavum_wall_traces *traces, double integral) {
  const cavum_mesh_boundary *boundary = view->boundary;
  double k_per_m = sqrt(view->field.k2_per_m2);
  double scale = view->copies * CAVUM_MU0 * CAVUM_C_M_PER_S * (integral < 0.0 ? -1.0 : 1.0);
  cavum_line_series series;
  cavum_line_fill(&series);
  for (cavum_index i = 0; i < boundary->num_conducting; i++) {
    const cavum_wall_shape *shape = &boundary->shape[i];
    cavum_lanes x[CAVUM_WALL_VECTORS], log_x[CAVUM_WALL_VECTORS];
    cavum_lanes xy0[CAVUM_WALL_VECTORS], slope[CAVUM_WALL_VECTORS];
    cavum_wall_gradient gradient;
    scale_radii(x, log_x, shape, k_per_m);
    cavum_line_uniform(xy0, x, log_x, CAVUM_WALL_VECTORS, &series);
    cavum_line_uniform_slope(slope, xy0, x, log_x, CAVUM_WALL_VECTORS, &series);
    integral_terms(&gradient, &functional->value, &functional->by_k, scale, k_per_m,
                   boundary->weight, &traces->edges[i], shape, xy0, slope);
    cavum_functional_add_wall(functional, view, traces, i, &gradient);
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
  cavum_functional_add_point(functional, edge, s, value, derivative, &by);
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

// An edge of the axis: where its middle is, from the origin of the phase, and half its length.
typedef struct axis_edge {
  double middle_m, half_m;
} axis_edge;

// The axis is straight.
static axis_edge axis_edge_of(const cavum_view *view, cavum_boundary_edge of, double origin_m) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double first = cavum_element_edge_at(mesh, of.element, of.local_edge, -1.0).z - origin_m;
  double last = cavum_element_edge_at(mesh, of.element, of.local_edge, 1.0).z - origin_m;
  return (axis_edge){0.5 * (first + last), 0.5 * (last - first)};
}

// x at the samples, from the coefficients of its functions.
static void sample_axis(cavum_lanes *x, const cavum_wall_traces *traces, const double *coeff) {
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes sum = {0};
    for (int i = 0; i <= traces->degree; i++) sum += coeff[i] * traces->value[i][v];
    x[v] = sum;
  }
}

// What is summed over the samples: the value, its derivatives by k, by z with the weights of both
// ends, and by z_s.
enum { AXIS_VALUE, AXIS_BY_K, AXIS_BY_FIRST, AXIS_BY_LAST, AXIS_BY_Z_S, NUM_AXIS_SUMS };

// The same terms as add_axis_point(), at all samples of an edge: x becomes the derivatives by it.
CAVUM_FAST static void axis_terms(double *restrict sums, cavum_lanes *restrict x,
                                  const axis_integral *restrict a, double of_x, double k_per_m,
                                  const axis_edge *restrict edge, const double *restrict sample,
                                  const double *restrict weights,
                                  const cavum_lanes *restrict cosine,
                                  const cavum_lanes *restrict sine) {
  bool turns = a->part == CAVUM_AXIS_VOLTAGE;
  cavum_lanes all[NUM_AXIS_SUMS] = {{0}};
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes s = cavum_wall_lanes(sample)[v], at = edge->middle_m + edge->half_m * s;
    cavum_lanes weight = a->factor * cavum_wall_lanes(weights)[v], e = of_x * x[v];
    cavum_lanes along = a->direction.re * cosine[v] + a->direction.im * sine[v];
    cavum_lanes by_angle = {0};
    if (turns) by_angle = a->direction.im * cosine[v] - a->direction.re * sine[v];
    cavum_lanes by_z = weight * e * by_angle * (a->k_z_per_m * edge->half_m);
    x[v] = weight * of_x * along * edge->half_m;
    all[AXIS_VALUE] += weight * e * along * edge->half_m;
    all[AXIS_BY_K] += weight * e * edge->half_m * (by_angle * at / a->beta - along / k_per_m);
    all[AXIS_BY_FIRST] += 0.5 * (1.0 - s) * by_z;
    all[AXIS_BY_LAST] += 0.5 * (1.0 + s) * by_z;
    all[AXIS_BY_Z_S] += weight * e * along;
  }
  for (int i = 0; i < NUM_AXIS_SUMS; i++) {
    sums[i] = 0.0;
    for (int l = 0; l < CAVUM_LANES; l++) sums[i] += all[i][l];
  }
}

// An edge along which nothing changes its sign within: the samples are the rule.
static void add_axis_samples(cavum_functional *functional, const axis_integral *a,
                             const cavum_wall_traces *traces, cavum_functional_edge *edge) {
  const cavum_mesh_boundary *boundary = a->view->boundary;
  const axis_edge shape = axis_edge_of(a->view, edge->edge, a->origin_m);
  double k_z_per_m = a->part == CAVUM_AXIS_VOLTAGE ? a->k_z_per_m : 0.0, sums[NUM_AXIS_SUMS];
  cavum_lanes x[CAVUM_WALL_VECTORS], angle[CAVUM_WALL_VECTORS];
  cavum_lanes cosine[CAVUM_WALL_VECTORS], sine[CAVUM_WALL_VECTORS];
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    angle[v] = k_z_per_m * (shape.middle_m + shape.half_m * cavum_wall_lanes(boundary->sample)[v]);
  }
  cavum_phases(cosine, sine, angle, CAVUM_WALL_VECTORS);
  sample_axis(x, traces, edge->trace.coeff);
  axis_terms(sums, x, a, axis_admittance(a->view, edge->edge.element),
             sqrt(a->view->field.k2_per_m2), &shape, boundary->sample, boundary->weight, cosine,
             sine);
  functional->value += sums[AXIS_VALUE];
  functional->by_k += sums[AXIS_BY_K];
  cavum_functional_add_axis_samples(functional, edge, traces, x, &sums[AXIS_BY_FIRST],
                                    sums[AXIS_BY_Z_S]);
}

void cavum_functional_add_axis(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, cavum_axis_part part, double factor,
                               double beta, const cavum_phasor *voltage) {
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
    if (part == CAVUM_AXIS_SIZES) add_axis_edge(functional, &a, &edge);
    if (part != CAVUM_AXIS_SIZES) add_axis_samples(functional, &a, traces, &edge);
    cavum_functional_end(functional, view, &edge);
  }
}

// The terms of one edge at the samples.
static double beta_terms(const cavum_view *view, const cavum_wall_traces *traces,
                         cavum_boundary_edge of, double beta, const cavum_phasor *direction) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double k_per_m = sqrt(view->field.k2_per_m2);
  const axis_edge edge = axis_edge_of(view, of, cavum_mesh_mirror_plane_m(mesh));
  cavum_trace trace = cavum_trace_create(&view->field, of.element, of.local_edge);
  cavum_lanes at[CAVUM_WALL_VECTORS], angle[CAVUM_WALL_VECTORS];
  cavum_lanes cosine[CAVUM_WALL_VECTORS], sine[CAVUM_WALL_VECTORS], x[CAVUM_WALL_VECTORS];
  cavum_lanes sum = {0};
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    at[v] = edge.middle_m + edge.half_m * cavum_wall_lanes(view->boundary->sample)[v];
    angle[v] = k_per_m / beta * at[v];
  }
  cavum_phases(cosine, sine, angle, CAVUM_WALL_VECTORS);
  sample_axis(x, traces, trace.coeff);
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    // The ends have no weight.
    sum += cavum_wall_lanes(view->boundary->weight)[v] * x[v] * at[v] *
           (direction->re * sine[v] - direction->im * cosine[v]);
  }
  double all = 0.0;
  for (int l = 0; l < CAVUM_LANES; l++) all += sum[l];
  return all * edge.half_m * axis_admittance(view, of.element) * k_per_m / (beta * beta);
}

void cavum_functional_add_beta(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, double beta,
                               const cavum_phasor *voltage) {
  const cavum_mesh_boundary *boundary = view->boundary;
  const cavum_phasor direction = direction_of(voltage);
  for (cavum_index i = 0; i < boundary->num_axis; i++) {
    functional->by_beta +=
        view->copies * beta_terms(view, traces, boundary->axis[i], beta, &direction);
  }
}
