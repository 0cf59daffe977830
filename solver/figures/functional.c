// SPDX-License-Identifier: GPL-3.0-or-later
// Sums over points of boundary edges and their gradients.
#include "figures/functional.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"

_Static_assert(CAVUM_WALL_SAMPLES % CAVUM_LANES == 0, "samples come in whole vectors");

static void fill_functions(cavum_wall_traces *traces, const cavum_view *view) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1];
  traces->degree = view->field.discretisation->reference->degree;
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    cavum_shape_segment(value, derivative, traces->degree, view->boundary->sample[k]);
    for (int i = 0; i <= traces->degree; i++) {
      traces->value[i][k / CAVUM_LANES][k % CAVUM_LANES] = value[i];
      traces->derivative[i][k / CAVUM_LANES][k % CAVUM_LANES] = derivative[i];
    }
  }
}

// The trace and H_phi; at the ends, which have no weight and may be on the axis, H_phi counts for
// nothing.
CAVUM_FAST static void fill_trace(cavum_wall_trace *restrict to,
                                  const cavum_wall_traces *restrict traces,
                                  const double *restrict coeff, const double *restrict radius,
                                  bool is_w) {
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_sum sum = {0}, sum_s = {0};
    cavum_lanes x, x_s, r = cavum_wall_lanes(radius)[v];
    for (int i = 0; i <= traces->degree; i++) {
      cavum_sum_add(&sum, coeff[i], &traces->value[i][v]);
      cavum_sum_add(&sum_s, coeff[i], &traces->derivative[i][v]);
    }
    cavum_sum_store(&x, &sum);
    cavum_sum_store(&x_s, &sum_s);
    cavum_lanes by_x = r, by_r = x;
    if (!is_w) by_x = 1.0 / r, by_r = -x / (r * r);
    to->x[v] = x;
    to->x_s[v] = x_s;
    to->h[v] = by_x * x;
    to->h_by_x[v] = by_x;
    to->h_by_r[v] = by_r;
  }
  const int last = CAVUM_WALL_VECTORS - 1;
  to->h[0][0] = to->h_by_x[0][0] = to->h_by_r[0][0] = 0.0;
  to->h[last][CAVUM_LANES - 1] = to->h_by_x[last][CAVUM_LANES - 1] = 0.0;
  to->h_by_r[last][CAVUM_LANES - 1] = 0.0;
}

// Where the samples are on the curve of their edge, from their positions.
static void fill_places(cavum_wall_trace *to, const cavum_view *view, cavum_index i) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_wall_shape *shape = &view->boundary->shape[i];
  cavum_boundary_edge of = view->boundary->conducting[i];
  const cavum_element *element = &mesh->elements[of.element];
  const cavum_edge *edge = &mesh->edges[element->edge[of.local_edge]];
  if (edge->curve < 0) return;
  const cavum_curve *curve = &mesh->curves[edge->curve];
  double sense = element->reversed[of.local_edge] ? -1.0 : 1.0;
  double middle = 0.5 * (edge->t[0] + edge->t[1]), half = 0.5 * (edge->t[1] - edge->t[0]);
  bool arc = curve->kind == CAVUM_CURVE_ELLIPSE;
  double per_axial = arc ? 1.0 / curve->axial_m : 0.0,
         per_radial = arc ? 1.0 / curve->radial_m : 0.0;
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes z = cavum_wall_lanes(shape->z_m)[v], r = cavum_wall_lanes(shape->r_m)[v];
    to->t[v] = middle + sense * half * cavum_wall_lanes(view->boundary->sample)[v];
    to->cosine[v] = (z - curve->centre.z_m) * per_axial;
    to->sine[v] = (r - curve->centre.r_m) * per_radial;
  }
}

static void fill_edge(cavum_wall_traces *traces, const cavum_view *view, cavum_index i) {
  const cavum_discretisation *d = view->field.discretisation;
  cavum_wall_trace *to = &traces->edges[i];
  cavum_boundary_edge of = view->boundary->conducting[i];
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST], coeff[CAVUM_DEGREE_MOST + 1];
  int corners = d->mesh->elements[of.element].num_corners;
  cavum_space_skeleton(index, sign, &d->space, of.element);
  for (int k = 0; k <= traces->degree; k++) {
    int a = cavum_shape_on_edge(corners, traces->degree, of.local_edge, k);
    to->index[k] = index[a];
    to->sign[k] = view->field.scale * sign[a];
    coeff[k] = to->sign[k] * view->field.vector[index[a]];
  }
  fill_trace(to, traces, coeff, view->boundary->shape[i].r_m, d->unknown == CAVUM_UNKNOWN_H_OVER_R);
  fill_places(to, view, i);
}

cavum_status cavum_wall_traces_create(cavum_wall_traces *traces, const cavum_view *view,
                                      cavum_error *error) {
  cavum_index count = view->boundary->num_conducting;
  cavum_wall_trace *edges = cavum_alloc_aligned(count, sizeof *edges);
  if (!edges) return cavum_fail_memory(error);
  fill_functions(traces, view);
  traces->edges = edges;
  for (cavum_index i = 0; i < count; i++) fill_edge(traces, view, i);
  return CAVUM_OK;
}

void cavum_wall_traces_clear(cavum_wall_traces *traces) {
  if (!traces) return;
  free(traces->edges);
  traces->edges = NULL;
}

cavum_status cavum_functional_create(cavum_functional *functional, const cavum_view *view,
                                     cavum_error *error) {
  const cavum_discretisation *d = view->field.discretisation;
  cavum_functional made = {0};
  cavum_status status = cavum_mesh_gradient_create_with(&made.gradient, &made.by_vector,
                                                        d->space.num_unknowns, d->mesh, error);
  if (status == CAVUM_OK) *functional = made;
  return status;
}

void cavum_functional_clear(cavum_functional *functional) {
  if (!functional) return;
  cavum_mesh_gradient_clear(&functional->gradient);
  *functional = (cavum_functional){0};
}

void cavum_functional_reset(cavum_functional *functional, const cavum_view *view) {
  cavum_index count = view->field.discretisation->space.num_unknowns;
  functional->value = functional->by_k = functional->by_beta = 0.0;
  memset(functional->by_vector, 0, (size_t)count * sizeof *functional->by_vector);
  cavum_mesh_gradient_reset(&functional->gradient);
}

cavum_functional_edge cavum_functional_begin(const cavum_view *view, cavum_boundary_edge edge) {
  return (cavum_functional_edge){
      .trace = cavum_trace_create(&view->field, edge.element, edge.local_edge),
      .edge = edge,
      .degree = view->field.discretisation->reference->degree};
}

cavum_trace_point cavum_functional_at(const cavum_functional_edge *edge, double s,
                                      const double *value, const double *derivative) {
  const cavum_mesh *mesh = edge->trace.field->discretisation->mesh;
  cavum_edge_position at =
      cavum_element_edge_at(mesh, edge->edge.element, edge->edge.local_edge, s);
  cavum_trace_point point = {.z = at.z, .r = at.r, .z_s = at.z_x, .r_s = at.r_x};
  for (int i = 0; i <= edge->degree; i++) {
    point.x += edge->trace.coeff[i] * value[i];
    point.x_s += edge->trace.coeff[i] * derivative[i];
  }
  return point;
}

void cavum_functional_add_point(cavum_functional *functional, cavum_functional_edge *edge, double s,
                                const double *value, const double *derivative,
                                const cavum_trace_gradient *by) {
  const cavum_edge_position position = {by->z, by->r, by->z_s, by->r_s};
  for (int i = 0; i <= edge->degree; i++) {
    edge->by_coeff[i] += by->x * value[i] + by->x_s * derivative[i];
  }
  cavum_curve_place place = cavum_mesh_gradient_place(functional->gradient.mesh, edge->edge.element,
                                                      edge->edge.local_edge, s);
  cavum_mesh_gradient_add_edge(&functional->gradient, edge->edge.element, edge->edge.local_edge, 1,
                               &s, &place, &position);
}

// What the functions of an edge gradient.
CAVUM_FAST static void sum_functions(double *restrict by_coeff,
                                     const cavum_wall_traces *restrict traces,
                                     const cavum_lanes *restrict by_x) {
  for (int i = 0; i <= traces->degree; i++) {
    cavum_sum sum = {0};
    for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
      cavum_lanes term = by_x[v] * traces->value[i][v];
      cavum_sum_take(&sum, &term);
    }
    by_coeff[i] = 0.0;
    for (int l = 0; l < CAVUM_LANES / 2; l++) by_coeff[i] += sum.low[l] + sum.high[l];
  }
}

void cavum_functional_add_axis_samples(cavum_functional *functional, cavum_functional_edge *edge,
                                       const cavum_wall_traces *traces, const cavum_lanes *by_x,
                                       const double by_z[2], double by_z_s) {
  static const double ends[2] = {-1.0, 1.0};
  const cavum_edge_position position[2] = {{.z = by_z[0], .z_x = by_z_s}, {.z = by_z[1]}};
  cavum_curve_place places[2];
  double by_coeff[CAVUM_DEGREE_MOST + 1];
  sum_functions(by_coeff, traces, by_x);
  for (int i = 0; i <= edge->degree; i++) edge->by_coeff[i] += by_coeff[i];
  for (int k = 0; k < 2; k++) {
    places[k] = cavum_mesh_gradient_place(functional->gradient.mesh, edge->edge.element,
                                          edge->edge.local_edge, ends[k]);
  }
  cavum_mesh_gradient_add_edge(&functional->gradient, edge->edge.element, edge->edge.local_edge, 2,
                               ends, places, position);
}

// A wall that runs straight through the inside of a contour.
static void add_chord(cavum_functional *functional, const cavum_view *view,
                      cavum_boundary_edge edge, const cavum_wall_gradient *gradient) {
  const cavum_curve_place none = {0};
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    int v = k / CAVUM_LANES, l = k % CAVUM_LANES;
    const cavum_edge_position by = {gradient->z[v][l], gradient->r[v][l], gradient->z_s[v][l],
                                    gradient->r_s[v][l]};
    cavum_mesh_gradient_add_edge(&functional->gradient, edge.element, edge.local_edge, 1,
                                 &view->boundary->sample[k], &none, &by);
  }
}

void cavum_functional_add_wall(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces, cavum_index i,
                               cavum_wall_gradient *gradient) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_wall_trace *at = &traces->edges[i];
  cavum_boundary_edge of = view->boundary->conducting[i];
  const cavum_element *element = &mesh->elements[of.element];
  const cavum_edge *edge = &mesh->edges[element->edge[of.local_edge]];
  double by_coeff[CAVUM_DEGREE_MOST + 1];
  sum_functions(by_coeff, traces, gradient->x);
  for (int k = 0; k <= traces->degree; k++) {
    functional->by_vector[at->index[k]] += at->sign[k] * by_coeff[k];
  }
  if (edge->curve < 0) {
    add_chord(functional, view, of, gradient);
    return;
  }
  double t_s = 0.5 * (edge->t[1] - edge->t[0]) * (element->reversed[of.local_edge] ? -1.0 : 1.0);
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    gradient->z_s[v] *= t_s;
    gradient->r_s[v] *= t_s;
  }
  const cavum_curve_places places = {at->t,       at->cosine,    at->sine,     gradient->z,
                                     gradient->r, gradient->z_s, gradient->r_s};
  cavum_curve_rate_add_many(&functional->gradient.curves[edge->curve], &mesh->curves[edge->curve],
                            &places, CAVUM_WALL_VECTORS);
}

void cavum_functional_end(cavum_functional *functional, const cavum_view *view,
                          const cavum_functional_edge *edge) {
  const cavum_discretisation *d = view->field.discretisation;
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  int corners = d->mesh->elements[edge->edge.element].num_corners;
  cavum_space_skeleton(index, sign, &d->space, edge->edge.element);
  for (int i = 0; i <= edge->degree; i++) {
    int a = cavum_shape_on_edge(corners, edge->degree, edge->edge.local_edge, i);
    functional->by_vector[index[a]] += view->field.scale * sign[a] * edge->by_coeff[i];
  }
}
