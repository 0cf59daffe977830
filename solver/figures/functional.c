// SPDX-License-Identifier: GPL-3.0-or-later
// Sums over points of boundary edges and what they feel.
#include "figures/functional.h"

#include <string.h>

#include "base/base.h"

void cavum_sample_functions_fill(cavum_sample_functions *functions, const cavum_view *view) {
  functions->degree = view->field.discretisation->reference->degree;
  for (int k = 0; k < CAVUM_WALL_SAMPLES; k++) {
    cavum_shape_segment(functions->value[k], functions->derivative[k], functions->degree,
                        view->boundary->sample[k]);
  }
}

cavum_status cavum_functional_create(cavum_functional *functional, const cavum_view *view,
                                     cavum_error *error) {
  const cavum_discretisation *d = view->field.discretisation;
  cavum_functional made = {0};
  cavum_status status = cavum_mesh_gradient_create(&made.gradient, d->mesh, error);
  if (status != CAVUM_OK) return status;
  made.by_vector = cavum_alloc(d->space.num_unknowns, sizeof *made.by_vector);
  if (!made.by_vector) {
    cavum_functional_clear(&made);
    return cavum_fail_memory(error);
  }
  *functional = made;
  return CAVUM_OK;
}

void cavum_functional_clear(cavum_functional *functional) {
  if (!functional) return;
  cavum_mesh_gradient_clear(&functional->gradient);
  free(functional->by_vector);
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

void cavum_functional_feel(cavum_functional *functional, cavum_functional_edge *edge, double s,
                           const double *value, const double *derivative,
                           const cavum_trace_gradient *by) {
  const cavum_edge_position position = {by->z, by->r, by->z_s, by->r_s};
  for (int i = 0; i <= edge->degree; i++) {
    edge->by_coeff[i] += by->x * value[i] + by->x_s * derivative[i];
  }
  cavum_curve_place place = cavum_mesh_gradient_place(functional->gradient.mesh, edge->edge.element,
                                                      edge->edge.local_edge, s);
  cavum_mesh_gradient_add_edge(&functional->gradient, edge->edge.element, edge->edge.local_edge, s,
                               &place, &position);
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
