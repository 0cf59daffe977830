// SPDX-License-Identifier: GPL-3.0-or-later
// Loss integral and fields at places of the wall.
#include "figures/functional_wall.h"

#include "base/base.h"
#include "base/fast.h"

// One edge; the sum of its terms is given.
CAVUM_FAST static void loss_terms(cavum_wall_gradient *restrict gradient, double *restrict sum,
                                  const cavum_wall_trace *restrict at,
                                  const cavum_wall_shape *restrict shape,
                                  const double *restrict weights, double factor) {
  cavum_lanes all = {0};
  for (int v = 0; v < CAVUM_WALL_VECTORS; v++) {
    cavum_lanes r = cavum_wall_lanes(shape->r_m)[v], h = at->h[v];
    cavum_lanes length = cavum_wall_lanes(shape->length_s)[v];
    cavum_lanes weight = factor * cavum_wall_lanes(weights)[v] * h;
    cavum_lanes along = weight * h * r / length;
    gradient->x[v] = weight * 2.0 * at->h_by_x[v] * r * length;
    gradient->z[v] = (cavum_lanes){0};
    gradient->r[v] = weight * (2.0 * at->h_by_r[v] * r + h) * length;
    gradient->z_s[v] = along * cavum_wall_lanes(shape->z_s)[v];
    gradient->r_s[v] = along * cavum_wall_lanes(shape->r_s)[v];
    all += weight * h * r * length;
  }
  for (int l = 0; l < CAVUM_LANES; l++) *sum += all[l];
}

void cavum_functional_add_loss(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces) {
  const cavum_mesh_boundary *boundary = view->boundary;
  cavum_wall_gradient gradient;
  for (cavum_index i = 0; i < boundary->num_metal; i++) {
    loss_terms(&gradient, &functional->value, &traces->edges[i], &boundary->shape[i],
               boundary->weight, 2.0 * CAVUM_PI * view->copies);
    cavum_functional_add_wall(functional, view, traces, i, &gradient);
  }
}

// The normal E of cavum_trace_at(), -flux / (w eps length), and its derivatives.
static double electric_term(cavum_trace_gradient *by, const cavum_view *view, cavum_index element,
                            const cavum_trace_point *p) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  double eps = CAVUM_EPS0 * mesh->regions[mesh->elements[element].region].eps_r;
  double length = hypot(p->z_s, p->r_s), a = 1.0 / (view->field.angular_frequency * eps * length);
  bool is_w = view->field.discretisation->unknown == CAVUM_UNKNOWN_H_OVER_R;
  double flux = is_w ? 2.0 * p->r_s * p->x + p->r * p->x_s : p->x_s / p->r;
  double shorter = flux / (length * length);
  *by = (cavum_trace_gradient){.x = is_w ? -a * 2.0 * p->r_s : 0.0,
                               .x_s = -a * (is_w ? p->r : 1.0 / p->r),
                               .r = -a * (is_w ? p->x_s : -p->x_s / (p->r * p->r)),
                               .z_s = a * shorter * p->z_s,
                               .r_s = a * (shorter * p->r_s - (is_w ? 2.0 * p->x : 0.0))};
  return -a * flux;
}

void cavum_functional_add_field(cavum_functional *functional, const cavum_view *view,
                                cavum_boundary_edge of, double s, bool electric) {
  double value[CAVUM_DEGREE_MOST + 1], derivative[CAVUM_DEGREE_MOST + 1], field;
  cavum_functional_edge edge = cavum_functional_begin(view, of);
  cavum_trace_gradient by = {0};
  cavum_shape_segment(value, derivative, edge.degree, s);
  cavum_trace_point p = cavum_functional_at(&edge, s, value, derivative);
  if (electric) {
    field = electric_term(&by, view, of.element, &p);
    functional->by_k -= fabs(field) / sqrt(view->field.k2_per_m2);
  } else {
    cavum_trace_h h = cavum_functional_h(view, &p);
    field = h.h;
    by = (cavum_trace_gradient){.x = h.by_x, .r = h.by_r};
  }
  double sign = field < 0.0 ? -1.0 : 1.0;
  by = (cavum_trace_gradient){sign * by.x, sign * by.x_s, sign * by.z,
                              sign * by.r, sign * by.z_s, sign * by.r_s};
  functional->value += sign * field;
  cavum_functional_add_point(functional, &edge, s, value, derivative, &by);
  cavum_functional_end(functional, view, &edge);
}
