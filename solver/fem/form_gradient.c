// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of discretisation.c and batch_map.c: from the products of two functions at the
// quadrature points to the edges of the elements.
#include "fem/form_gradient.h"

#include <string.h>

#include "base/base.h"
#include "base/fast.h"
#include "fem/apply.h"
#include "fem/batch_map.h"

// Derivatives of a form by the map of a batch at one point.
typedef struct map_gradient {
  cavum_lanes r, z_xi, r_xi, z_eta, r_eta;
} map_gradient;

// Derivatives by the parts of the blended maps of a batch, one element to a lane.
typedef struct part {
  cavum_lanes z[CAVUM_POINTS_MOST], r[CAVUM_POINTS_MOST];
  cavum_lanes z_x[CAVUM_POINTS_MOST], r_x[CAVUM_POINTS_MOST];
} part;

// A function and its derivatives along xi and eta at the points of a batch.
typedef struct point_values {
  cavum_lanes value[CAVUM_GRID_MOST], d_xi[CAVUM_GRID_MOST], d_eta[CAVUM_GRID_MOST];
} point_values;

// A curved part of the map of an element, and where it is on its curve at the points of the rule.
typedef struct curved_part {
  int lane;
  cavum_blend_part part;
  cavum_curve_place places[CAVUM_POINTS_MOST];
} curved_part;

// Large, of which only the points of the rule are used. The maps and places are those of a batch,
// all else is of one form at a time.
typedef struct work {
  const cavum_discretisation *d;
  const cavum_batch *batch;
  cavum_batch_map map;
  point_values x, u;
  map_gradient gradient[CAVUM_GRID_MOST];
  part parts[4];  // by cavum_blend_part
  cavum_lanes inverse_eps_r, mu_r;
  double weight[CAVUM_GRID_MOST];
  int num_curved;
  curved_part curved[4 * CAVUM_LANES];
} work;

static void list_curved(work *w) {
  const cavum_reference *ref = w->d->reference;
  w->num_curved = 0;
  for (int l = 0; l < w->batch->count; l++) {
    for (int k = 0; k < 4; k++) {
      cavum_index e = w->batch->element[l];
      cavum_blend_part which = (cavum_blend_part)k;
      if (!cavum_blend_is_curved(w->d->mesh, e, which)) continue;
      curved_part *to = &w->curved[w->num_curved++];
      to->lane = l;
      to->part = which;
      for (int i = 0; i < ref->q; i++) {
        to->places[i] = cavum_mesh_gradient_blend_place(w->d->mesh, e, which, ref->x[i]);
      }
    }
  }
}

static void begin_batch(work *w, const cavum_batch *batch) {
  const cavum_discretisation *d = w->d;
  int count = cavum_reference_points(d->reference, batch->num_corners);
  w->batch = batch;
  cavum_batch_map_fill(&w->map, d, batch);
  for (int i = 0; i < count; i++) {
    w->weight[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    w->inverse_eps_r[l] = 1.0 / region->eps_r;
    w->mu_r[l] = region->mu_r;
  }
  list_curved(w);
}

// Derivatives of the sum over the points by their maps.
CAVUM_FAST static void differentiate(work *w, const point_values *u, double mass_u, double mass_x,
                                     bool is_w, int count) {
  const point_values *x = &w->x;
  for (int i = 0; i < count; i++) {
    cavum_lanes r = w->map.r[i], z_xi = w->map.z_xi[i], r_xi = w->map.r_xi[i];
    cavum_lanes z_eta = w->map.z_eta[i], r_eta = w->map.r_eta[i];
    cavum_lanes jacobian = z_xi * r_eta - z_eta * r_xi;
    cavum_lanes c = w->weight[i] * r * r * r, c_power = 3.0 / r;
    if (!is_w) c = w->weight[i] / r, c_power = -1.0 / r;
    cavum_lanes stiffness = c * w->inverse_eps_r / jacobian, mass = c * w->mu_r;
    cavum_lanes p11 = x->d_xi[i] * u->d_xi[i], p22 = x->d_eta[i] * u->d_eta[i];
    cavum_lanes p12 = x->d_xi[i] * u->d_eta[i] + x->d_eta[i] * u->d_xi[i];
    cavum_lanes pm = -x->value[i] * (mass_u * u->value[i] + mass_x * x->value[i]);
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
  part *bottom = &w->parts[CAVUM_BLEND_BOTTOM], *top = &w->parts[CAVUM_BLEND_TOP];
  part *left = &w->parts[CAVUM_BLEND_LEFT], *right = &w->parts[CAVUM_BLEND_RIGHT];
  for (int k = 0; k < 4; k++) {
    for (int i = 0; i < n; i++) {
      w->parts[k].z[i] = w->parts[k].r[i] = (cavum_lanes){0};
      w->parts[k].z_x[i] = w->parts[k].r_x[i] = (cavum_lanes){0};
    }
  }
  for (int j = 0; j < n; j++) {
    double b = 0.5 * (1.0 - x[j]), t = 0.5 * (1.0 + x[j]);
    for (int i = 0; i < n; i++) {
      const map_gradient *g = &w->gradient[j * n + i];
      double l = 0.5 * (1.0 - x[i]), r = 0.5 * (1.0 + x[i]);
      bottom->r[i] += b * g->r - 0.5 * g->r_eta;
      top->r[i] += t * g->r + 0.5 * g->r_eta;
      left->r[j] += l * g->r - 0.5 * g->r_xi;
      right->r[j] += r * g->r + 0.5 * g->r_xi;
      bottom->z[i] -= 0.5 * g->z_eta;
      top->z[i] += 0.5 * g->z_eta;
      left->z[j] -= 0.5 * g->z_xi;
      right->z[j] += 0.5 * g->z_xi;
      bottom->z_x[i] += b * g->z_xi;
      bottom->r_x[i] += b * g->r_xi;
      top->z_x[i] += t * g->z_xi;
      top->r_x[i] += t * g->r_xi;
      left->z_x[j] += l * g->z_eta;
      left->r_x[j] += l * g->r_eta;
      right->z_x[j] += r * g->z_eta;
      right->r_x[j] += r * g->r_eta;
    }
  }
}

// Derivatives of a part by the two ends of a chord: z and r of the first, then of the second.
CAVUM_FAST static void sum_chord(cavum_lanes *restrict sums, const part *restrict from, int n,
                                 const double *restrict x) {
  for (int k = 0; k < 4; k++) sums[k] = (cavum_lanes){0};
  for (int i = 0; i < n; i++) {
    double a = 0.5 * (1.0 - x[i]), b = 0.5 * (1.0 + x[i]);
    sums[0] += a * from->z[i] - 0.5 * from->z_x[i];
    sums[1] += a * from->r[i] - 0.5 * from->r_x[i];
    sums[2] += b * from->z[i] + 0.5 * from->z_x[i];
    sums[3] += b * from->r[i] + 0.5 * from->r_x[i];
  }
}

static void add_elements(cavum_mesh_gradient *gradient, const work *w) {
  const cavum_reference *ref = w->d->reference;
  cavum_lanes sums[4][4];
  for (int k = 0; k < 4; k++) sum_chord(sums[k], &w->parts[k], ref->q, ref->x);
  for (int l = 0; l < w->batch->count; l++) {
    cavum_point ends[4][2];
    for (int k = 0; k < 4; k++) {
      ends[k][0] = (cavum_point){sums[k][0][l], sums[k][1][l]};
      ends[k][1] = (cavum_point){sums[k][2][l], sums[k][3][l]};
    }
    cavum_mesh_gradient_add_chords(gradient, w->batch->element[l], ends);
  }
  for (int c = 0; c < w->num_curved; c++) {
    const curved_part *curved = &w->curved[c];
    const part *from = &w->parts[curved->part];
    cavum_edge_position by[CAVUM_POINTS_MOST];
    for (int i = 0, l = curved->lane; i < ref->q; i++) {
      by[i] = (cavum_edge_position){from->z[i][l], from->r[i][l], from->z_x[i][l], from->r_x[i][l]};
    }
    cavum_mesh_gradient_add_curve(gradient, w->batch->element[curved->lane], curved->part, ref->q,
                                  curved->places, by);
  }
}

// The functions of a local edge in vectors.
typedef struct edge_functions {
  cavum_index index[CAVUM_DEGREE_MOST + 1];
  double sign[CAVUM_DEGREE_MOST + 1];
} edge_functions;

static void list_functions(edge_functions *to, const cavum_discretisation *d, cavum_index e,
                           int local) {
  const cavum_reference *ref = d->reference;
  cavum_index index[4 * CAVUM_DEGREE_MOST];
  double sign[4 * CAVUM_DEGREE_MOST];
  cavum_space_skeleton(index, sign, &d->space, e);
  for (int k = 0; k < ref->n; k++) {
    int a = cavum_shape_on_edge(d->mesh->elements[e].num_corners, ref->degree, local, k);
    to->index[k] = index[a];
    to->sign[k] = sign[a];
  }
}

// A function on a local edge at the points of the rule.
static void trace(double *values, const cavum_reference *ref, const edge_functions *functions,
                  const double *vector) {
  double coeff[CAVUM_DEGREE_MOST + 1];
  for (int k = 0; k < ref->n; k++) coeff[k] = functions->sign[k] * vector[functions->index[k]];
  for (int i = 0; i < ref->q; i++) {
    values[i] = 0.0;
    for (int k = 0; k < ref->n; k++) values[i] += coeff[k] * ref->value[i * ref->n + k];
  }
}

// The boundary term -2 r^2 z_s x u / eps_r of one edge, of all forms.
static void add_edge_term(cavum_mesh_gradient *const *gradients, const work *w,
                          const cavum_edge_term *term, const cavum_form *forms, int count) {
  const cavum_discretisation *d = w->d;
  const cavum_reference *ref = d->reference;
  cavum_index e = w->batch->element[term->lane];
  double x[CAVUM_POINTS_MOST], u[CAVUM_POINTS_MOST];
  cavum_edge_position at[CAVUM_POINTS_MOST];
  cavum_curve_place places[CAVUM_POINTS_MOST];
  edge_functions functions;
  double eps_r = d->mesh->regions[d->mesh->elements[e].region].eps_r;
  list_functions(&functions, d, e, term->local);
  for (int i = 0; i < ref->q; i++) {
    at[i] = cavum_element_edge_at(d->mesh, e, term->local, ref->x[i]);
    places[i] = cavum_mesh_gradient_place(d->mesh, e, term->local, ref->x[i]);
  }
  for (int f = 0; f < count; f++) {
    cavum_edge_position by[CAVUM_POINTS_MOST];
    if (f == 0 || forms[f].x != forms[f - 1].x) trace(x, ref, &functions, forms[f].x);
    trace(u, ref, &functions, forms[f].u);
    for (int i = 0; i < ref->q; i++) {
      double both = -2.0 * ref->weight[i] / eps_r * x[i] * u[i];
      by[i] = (cavum_edge_position){.r = 2.0 * at[i].r * at[i].z_x * both,
                                    .z_x = at[i].r * at[i].r * both};
    }
    cavum_mesh_gradient_add_edge(gradients[f], e, term->local, ref->q, ref->x, places, by);
  }
}

static void add_batch(cavum_mesh_gradient *const *gradients, work *w, const cavum_form *forms,
                      int count) {
  const cavum_discretisation *d = w->d;
  const cavum_batch *batch = w->batch;
  int points = cavum_reference_points(d->reference, batch->num_corners);
  for (int f = 0; f < count; f++) {
    bool same = forms[f].u == forms[f].x;
    if (f == 0 || forms[f].x != forms[f - 1].x) {
      cavum_discretisation_values(w->x.value, w->x.d_xi, w->x.d_eta, d, batch, forms[f].x);
    }
    if (!same) {
      cavum_discretisation_values(w->u.value, w->u.d_xi, w->u.d_eta, d, batch, forms[f].u);
    }
    differentiate(w, same ? &w->x : &w->u, forms[f].mass_u, forms[f].mass_x,
                  d->unknown == CAVUM_UNKNOWN_H_OVER_R, points);
    unblend(w, d->reference->q, d->reference->x);
    add_elements(gradients[f], w);
  }
  for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
    add_edge_term(gradients, w, &d->edge_terms[t], forms, count);
  }
}

void cavum_form_gradients_add(cavum_mesh_gradient *const *gradients, const cavum_discretisation *d,
                              const cavum_form *forms, int count) {
  work w;
  w.d = d;
  for (cavum_index b = 0; b < d->num_batches; b++) {
    begin_batch(&w, &d->batches[b]);
    add_batch(gradients, &w, forms, count);
  }
}
