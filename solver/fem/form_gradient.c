// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of discretisation.c and batch_map.c: from the products of two functions at the
// quadrature points to the edges of the elements.
#include "fem/form_gradient.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "fem/apply.h"
#include "fem/batch_map.h"

// Where the values of a batch begin, in lanes.
static int64_t first_value(const cavum_batch *batch) { return batch->first_coeff / 4 * 3; }

cavum_status cavum_point_values_create(cavum_point_values *values, const cavum_discretisation *d,
                                       const double *vector, cavum_error *error) {
  int64_t count = 0;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    count += 3 * (int64_t)cavum_reference_points(d->reference, d->batches[b].num_corners);
  }
  cavum_point_values made = {.vector = vector,
                             .values = cavum_alloc_aligned(count, sizeof *made.values)};
  if (!made.values) return cavum_fail_memory(error);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    int points = cavum_reference_points(d->reference, batch->num_corners);
    cavum_lanes *at = made.values + first_value(batch);
    cavum_discretisation_values(at, at + points, at + 2 * points, d, batch, vector);
  }
  *values = made;
  return CAVUM_OK;
}

void cavum_point_values_clear(cavum_point_values *values) {
  if (!values) return;
  free(values->values);
  *values = (cavum_point_values){0};
}

// Derivatives of a form by the map of a batch at one point.
typedef struct map_gradient {
  cavum_lanes r, z_xi, r_xi, z_eta, r_eta;
} map_gradient;

// Derivatives by the parts of the blended maps of a batch, one element to a lane.
typedef struct part {
  cavum_lanes z[CAVUM_POINTS_MOST], r[CAVUM_POINTS_MOST];
  cavum_lanes z_x[CAVUM_POINTS_MOST], r_x[CAVUM_POINTS_MOST];
} part;

typedef struct work {
  cavum_batch_map map;
  map_gradient gradient[CAVUM_GRID_MOST];
  part bottom, top, left, right;
  cavum_lanes inverse_eps_r, mu_r;
  double weight[CAVUM_GRID_MOST];
} work;

static void fill_work(work *w, const cavum_discretisation *d, const cavum_batch *batch) {
  int count = cavum_reference_points(d->reference, batch->num_corners);
  cavum_batch_map_fill(&w->map, d, batch);
  for (int i = 0; i < count; i++) {
    w->weight[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    w->inverse_eps_r[l] = 1.0 / region->eps_r;
    w->mu_r[l] = region->mu_r;
  }
}

// Derivatives of the sum over the points by their maps.
CAVUM_FAST static void differentiate(work *restrict w, const cavum_lanes *restrict x,
                                     const cavum_lanes *restrict u, double mass_u, double mass_x,
                                     bool is_w, int count) {
  for (int i = 0; i < count; i++) {
    cavum_lanes r = w->map.r[i], z_xi = w->map.z_xi[i], r_xi = w->map.r_xi[i];
    cavum_lanes z_eta = w->map.z_eta[i], r_eta = w->map.r_eta[i];
    cavum_lanes jacobian = z_xi * r_eta - z_eta * r_xi;
    cavum_lanes c = w->weight[i] * r * r * r, c_power = 3.0 / r;
    if (!is_w) c = w->weight[i] / r, c_power = -1.0 / r;
    cavum_lanes stiffness = c * w->inverse_eps_r / jacobian, mass = c * w->mu_r;
    cavum_lanes p11 = x[count + i] * u[count + i], p22 = x[2 * count + i] * u[2 * count + i];
    cavum_lanes p12 = x[count + i] * u[2 * count + i] + x[2 * count + i] * u[count + i];
    cavum_lanes pm = -x[i] * (mass_u * u[i] + mass_x * x[i]);
    cavum_lanes sum = p11 * (z_eta * z_eta + r_eta * r_eta) + p22 * (z_xi * z_xi + r_xi * r_xi) -
                      p12 * (z_xi * z_eta + r_xi * r_eta);
    cavum_lanes by_jacobian = pm * mass - stiffness * sum / jacobian;
    map_gradient *g = &w->gradient[i];
    g->r = (stiffness * sum + pm * mass * jacobian) * c_power;
    g->z_xi = stiffness * (2.0 * p22 * z_xi - p12 * z_eta) + by_jacobian * r_eta;
    g->r_xi = stiffness * (2.0 * p22 * r_xi - p12 * r_eta) - by_jacobian * z_eta;
    g->z_eta = stiffness * (2.0 * p11 * z_eta - p12 * z_xi) - by_jacobian * r_xi;
    g->r_eta = stiffness * (2.0 * p11 * r_eta - p12 * r_xi) + by_jacobian * z_xi;
  }
}

// The transpose of blend() of batch_map.c.
CAVUM_FAST static void unblend(work *restrict w, int n, const double *restrict x) {
  memset(&w->bottom, 0, sizeof w->bottom);
  memset(&w->top, 0, sizeof w->top);
  memset(&w->left, 0, sizeof w->left);
  memset(&w->right, 0, sizeof w->right);
  for (int j = 0; j < n; j++) {
    double b = 0.5 * (1.0 - x[j]), t = 0.5 * (1.0 + x[j]);
    for (int i = 0; i < n; i++) {
      const map_gradient *g = &w->gradient[j * n + i];
      double l = 0.5 * (1.0 - x[i]), r = 0.5 * (1.0 + x[i]);
      w->bottom.r[i] += b * g->r - 0.5 * g->r_eta;
      w->top.r[i] += t * g->r + 0.5 * g->r_eta;
      w->left.r[j] += l * g->r - 0.5 * g->r_xi;
      w->right.r[j] += r * g->r + 0.5 * g->r_xi;
      w->bottom.z[i] -= 0.5 * g->z_eta;
      w->top.z[i] += 0.5 * g->z_eta;
      w->left.z[j] -= 0.5 * g->z_xi;
      w->right.z[j] += 0.5 * g->z_xi;
      w->bottom.z_x[i] += b * g->z_xi;
      w->bottom.r_x[i] += b * g->r_xi;
      w->top.z_x[i] += t * g->z_xi;
      w->top.r_x[i] += t * g->r_xi;
      w->left.z_x[j] += l * g->z_eta;
      w->left.r_x[j] += l * g->r_eta;
      w->right.z_x[j] += r * g->z_eta;
      w->right.r_x[j] += r * g->r_eta;
    }
  }
}

static void take_lane(cavum_edge_position *to, const part *from, int lane, int n) {
  for (int i = 0; i < n; i++) {
    to[i] = (cavum_edge_position){from->z[i][lane], from->r[i][lane], from->z_x[i][lane],
                                  from->r_x[i][lane]};
  }
}

static void add_elements(cavum_mesh_gradient *gradient, const work *w, const cavum_batch *batch,
                         const cavum_reference *ref) {
  cavum_blend_edges by;
  for (int l = 0; l < batch->count; l++) {
    take_lane(by.bottom, &w->bottom, l, ref->q);
    take_lane(by.top, &w->top, l, ref->q);
    take_lane(by.left, &w->left, l, ref->q);
    take_lane(by.right, &w->right, l, ref->q);
    cavum_mesh_gradient_add_blend(gradient, batch->element[l], ref->q, ref->x, &by);
  }
}

// Value of a function on a local edge at point i of the rule.
static double trace_at(const double *coeff, const cavum_reference *ref, int i) {
  double sum = 0.0;
  for (int k = 0; k < ref->n; k++) sum += coeff[k] * ref->value[i * ref->n + k];
  return sum;
}

static void gather_trace(double *coeff, const cavum_discretisation *d, cavum_index e, int local,
                         const double *x) {
  const cavum_reference *ref = d->reference;
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  cavum_space_skeleton(index, sign, &d->space, e);
  for (int k = 0; k < ref->n; k++) {
    int a = cavum_shape_on_edge(d->mesh->elements[e].num_corners, ref->degree, local, k);
    coeff[k] = sign[a] * x[index[a]];
  }
}

// The boundary term -2 r^2 z_s x u / eps_r.
static void add_edge_term(cavum_mesh_gradient *gradient, const cavum_discretisation *d,
                          cavum_index e, int local, const cavum_form *form) {
  const cavum_reference *ref = d->reference;
  double x[CAVUM_DEGREE_MOST + 1], u[CAVUM_DEGREE_MOST + 1];
  double eps_r = d->mesh->regions[d->mesh->elements[e].region].eps_r;
  gather_trace(x, d, e, local, form->x->vector);
  gather_trace(u, d, e, local, form->u->vector);
  for (int i = 0; i < ref->q; i++) {
    cavum_edge_position at = cavum_element_edge_at(d->mesh, e, local, ref->x[i]);
    double both = -2.0 * ref->weight[i] / eps_r * trace_at(x, ref, i) * trace_at(u, ref, i);
    const cavum_edge_position by = {.r = 2.0 * at.r * at.z_x * both, .z_x = at.r * at.r * both};
    cavum_mesh_gradient_add_edge(gradient, e, local, ref->x[i], &by);
  }
}

cavum_status cavum_form_gradient_add(cavum_mesh_gradient *gradient, const cavum_discretisation *d,
                                     const cavum_form *form, cavum_error *error) {
  work *w = cavum_alloc_aligned(1, sizeof *w);
  if (!w) return cavum_fail_memory(error);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    const cavum_batch *batch = &d->batches[b];
    int count = cavum_reference_points(d->reference, batch->num_corners);
    const cavum_lanes *x = form->x->values + first_value(batch);
    const cavum_lanes *u = form->u->values + first_value(batch);
    fill_work(w, d, batch);
    differentiate(w, x, u, form->mass_u, form->mass_x, d->unknown == CAVUM_UNKNOWN_H_OVER_R, count);
    unblend(w, d->reference->q, d->reference->x);
    add_elements(gradient, w, batch, d->reference);
    for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
      const cavum_edge_term *term = &d->edge_terms[t];
      add_edge_term(gradient, d, batch->element[term->lane], term->local, form);
    }
  }
  free(w);
  return CAVUM_OK;
}
