// SPDX-License-Identifier: GPL-3.0-or-later
// Of an edge that is not bent the term is a product of the functions of u and what x makes of them.
#include "fem/form_edges.h"

#include "base/fast.h"

void cavum_form_edges_begin(cavum_form_edges *edges, const cavum_discretisation *d) {
  const cavum_reference *ref = d->reference;
  edges->d = d;
  edges->count = 0;
  // Point by point, in the order in which they are summed up.
  for (int k = 0; k < ref->n; k++) {
    for (int i = 0; i < ref->q; i++) edges->trace[k][i] = ref->value[i * ref->n + k];
  }
}

// The functions of the edge are those that apply.c and element_matrix.c have for this term.
static void list_functions(cavum_form_edge *to, const cavum_discretisation *d,
                           const cavum_batch *batch, const cavum_edge_term *term) {
  const cavum_reference *ref = d->reference;
  for (int k = 0; k < ref->n; k++) {
    int a = cavum_shape_on_edge(batch->num_corners, ref->degree, term->local, k);
    to->index[k] = d->index[batch->first_index + a][term->lane];
    to->sign[k] = ref->quad_sign[a] * d->sign[batch->first_sign + a][term->lane];
  }
}

void cavum_form_edges_list(cavum_form_edges *edges, const cavum_batch *batch) {
  const cavum_discretisation *d = edges->d;
  edges->count = 0;
  for (cavum_index t = batch->first_edge_term; t < batch->last_edge_term; t++) {
    const cavum_edge_term *term = &d->edge_terms[t];
    cavum_form_edge *to = &edges->edges[edges->count++];
    to->element = batch->element[term->lane];
    to->local = term->local;
    const cavum_element *element = &d->mesh->elements[to->element];
    const cavum_edge *edge = &d->mesh->edges[element->edge[to->local]];
    to->is_bent = cavum_edge_is_bent(d->mesh, edge);
    for (int end = 0; end < 2; end++) {
      to->ends[end] = cavum_mesh_gradient_end(edge, element->reversed[to->local] ? 1 - end : end);
    }
    double eps_r = d->mesh->regions[element->region].eps_r;
    for (int i = 0; i < d->reference->q; i++) {
      double r = term->radius_m[i];
      to->of_r[i] = 2.0 * term->coeff[i] / r;
      to->of_z_s[i] = -2.0 * d->reference->weight[i] * r * r / eps_r;
    }
    list_functions(to, d, batch, term);
  }
}

int cavum_form_edges_find(const cavum_form_edges *edges, cavum_index element, int local) {
  for (int t = 0; t < edges->count; t++) {
    if (edges->edges[t].element == element && edges->edges[t].local == local) return t;
  }
  return -1;
}

// A function on an edge at the points of the rule.
CAVUM_FAST static void trace(double *restrict values, const cavum_form_edges *restrict edges,
                             const cavum_form_edge *restrict edge, const double *restrict vector) {
  int n = edges->d->reference->n, q = edges->d->reference->q;
  double sum[CAVUM_POINTS_MOST] = {0.0};
  for (int k = 0; k < n; k++) {
    double coeff = edge->sign[k] * vector[edge->index[k]];
    for (int i = 0; i < q; i++) sum[i] += coeff * edges->trace[k][i];
  }
  for (int i = 0; i < q; i++) values[i] = sum[i];
}

// The chord from the first to the second end of the local edge: r = ((1 - s) r_0 + (1 + s) r_1) / 2
// and z_s = (z_1 - z_0) / 2.
CAVUM_FAST static void weigh_ends(cavum_form_edge *restrict edge,
                                  const cavum_form_edges *restrict edges) {
  const cavum_reference *ref = edges->d->reference;
  cavum_half by[CAVUM_POINTS_MOST];
  for (int i = 0; i < ref->q; i++) {
    double half_x = 0.5 * edge->x[i], of_r = half_x * edge->of_r[i];
    by[i] = (cavum_half){half_x * edge->of_z_s[i], (1.0 - ref->x[i]) * of_r,
                         (1.0 + ref->x[i]) * of_r, 0.0};
  }
  for (int k = 0; k < ref->n; k++) {
    cavum_half sum = {0};
    for (int i = 0; i < ref->q; i++) sum += edges->trace[k][i] * by[i];
    edge->by_ends[k] = edge->sign[k] * sum;
  }
}

void cavum_form_edges_set_x(cavum_form_edges *edges, const double *x) {
  for (int t = 0; t < edges->count; t++) trace(edges->edges[t].x, edges, &edges->edges[t], x);
}

void cavum_form_edges_weigh(cavum_form_edges *edges) {
  for (int t = 0; t < edges->count; t++) {
    if (!edges->edges[t].is_bent) weigh_ends(&edges->edges[t], edges);
  }
}

// z of the second end, r of the first and of the second.
static void add_ends(cavum_mesh_gradient *gradient, const cavum_form_edge *edge, double z,
                     double first_r, double second_r) {
  cavum_mesh_gradient_add_end(gradient, &edge->ends[0], -z, first_r);
  cavum_mesh_gradient_add_end(gradient, &edge->ends[1], z, second_r);
}

void cavum_form_edges_add_square(cavum_mesh_gradient *gradient, const cavum_form_edges *edges) {
  const cavum_reference *ref = edges->d->reference;
  for (int t = 0; t < edges->count; t++) {
    const cavum_form_edge *edge = &edges->edges[t];
    double z = 0.0, first = 0.0, second = 0.0;
    if (edge->is_bent) continue;
    for (int i = 0; i < ref->q; i++) {
      double half = 0.5 * edge->x[i] * edge->x[i], of_r = half * edge->of_r[i];
      z += half * edge->of_z_s[i];
      first += (1.0 - ref->x[i]) * of_r;
      second += (1.0 + ref->x[i]) * of_r;
    }
    add_ends(gradient, edge, z, first, second);
  }
}

CAVUM_FAST void cavum_form_edges_add_straight(cavum_mesh_gradient *restrict gradient,
                                              const cavum_form_edges *restrict edges,
                                              const double *restrict u) {
  int n = edges->d->reference->n;
  for (int t = 0; t < edges->count; t++) {
    const cavum_form_edge *edge = &edges->edges[t];
    if (edge->is_bent) continue;
    cavum_half by = {0};
    for (int k = 0; k < n; k++) by += u[edge->index[k]] * edge->by_ends[k];
    add_ends(gradient, edge, by[0], by[1], by[2]);
  }
}

void cavum_form_edges_add_bent(cavum_edge_position *by, const cavum_form_edges *edges, int edge,
                               const double *u, cavum_blend_part which) {
  const cavum_form_edge *term = &edges->edges[edge];
  bool against = which == CAVUM_BLEND_TOP || which == CAVUM_BLEND_LEFT;
  int q = edges->d->reference->q;
  double values[CAVUM_POINTS_MOST];
  trace(values, edges, term, u);
  for (int i = 0; i < q; i++) {
    int at = against ? q - 1 - i : i;
    double both = term->x[at] * values[at];
    by[i].r += term->of_r[at] * both;
    by[i].z_x += (against ? -term->of_z_s[at] : term->of_z_s[at]) * both;
  }
}
