// SPDX-License-Identifier: GPL-3.0-or-later
// The transposes of discretisation.c and batch_map.c: from the products of two functions at the
// quadrature points to the edges of the elements.
#include "fem/form_gradient.h"

#include "fem/apply.h"
#include "fem/form_edges.h"
#include "fem/form_sums.h"

// A curved part of the map of an element, and where it is on its curve at the points of the rule.
typedef struct curved_part {
  int lane;
  cavum_blend_part part;
  int term;  // the boundary term along it, of those of the batch; -1: none
  cavum_curve_place places[CAVUM_POINTS_MOST];
} curved_part;

// An end of a chord of the element in a lane.
typedef struct chord {
  int lane;
  cavum_chord_end end;
} chord;

// Large, of which only the points of the rule are used. Of one batch and of forms with one x at a
// time.
typedef struct work {
  const cavum_discretisation *d;
  const cavum_batch *batch;
  cavum_form_batch sums;
  cavum_batch_map_room room;
  cavum_point_values x, u[CAVUM_FORMS_TOGETHER];
  cavum_form_side sides[CAVUM_FORMS_TOGETHER][4];  // by cavum_blend_part
  cavum_lanes inverse_eps_r, mu_r;
  double weight[CAVUM_GRID_MOST];
  int weight_corners;  // of the elements that the weights are of; 0: none yet
  int num_curved, num_chords;
  curved_part curved[4 * CAVUM_LANES];
  chord chords[CAVUM_CHORD_ENDS_MOST * CAVUM_LANES];
  cavum_form_edges edges;
} work;

static void list_curved(work *w) {
  const cavum_reference *ref = w->d->reference;
  w->num_curved = 0;
  w->sums.has_bumps = false;
  for (int l = 0; l < w->batch->count; l++) {
    for (int k = 0; k < 4; k++) {
      cavum_index e = w->batch->element[l];
      cavum_blend_part which = (cavum_blend_part)k;
      if (!cavum_blend_is_curved(w->d->mesh, e, which)) continue;
      curved_part *to = &w->curved[w->num_curved++];
      to->lane = l;
      to->part = which;
      if (which == CAVUM_BLEND_LEFT || which == CAVUM_BLEND_RIGHT) w->sums.has_bumps = true;
      to->term = cavum_form_edges_find(&w->edges, e, k);
      for (int i = 0; i < ref->q; i++) {
        to->places[i] = cavum_mesh_gradient_blend_place(w->d->mesh, e, which, ref->x[i]);
      }
    }
  }
}

static void list_chords(work *w) {
  cavum_chord_end ends[CAVUM_CHORD_ENDS_MOST];
  w->num_chords = 0;
  for (int l = 0; l < w->batch->count; l++) {
    int count = cavum_mesh_gradient_list_chords(ends, w->d->mesh, w->batch->element[l]);
    for (int k = 0; k < count; k++) w->chords[w->num_chords++] = (chord){l, ends[k]};
  }
}

static void begin_batch(work *w, const cavum_batch *batch) {
  const cavum_discretisation *d = w->d;
  int count = cavum_reference_points(d->reference, batch->num_corners);
  w->batch = batch;
  w->sums.num_halves = batch->count > CAVUM_LANES / 2 ? 2 : 1;
  w->sums.map = cavum_batch_map_of(&w->room, d, batch);
  if (batch->num_corners != w->weight_corners) {
    w->weight_corners = batch->num_corners;
    for (int i = 0; i < count; i++) {
      w->weight[i] = cavum_discretisation_weight(d->reference, batch->num_corners, i);
    }
  }
  for (int l = 0; l < CAVUM_LANES; l++) {
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[batch->element[l]].region];
    w->inverse_eps_r[l] = 1.0 / region->eps_r;
    w->mu_r[l] = region->mu_r;
  }
  cavum_form_points_fill(&w->sums, w->weight, &w->inverse_eps_r, &w->mu_r,
                         d->unknown == CAVUM_UNKNOWN_H_OVER_R);
  cavum_form_edges_list(&w->edges, batch);
  list_chords(w);
  list_curved(w);
}

static void add_chords(cavum_mesh_gradient *gradient, const work *w,
                       const cavum_form_side sides[4]) {
  cavum_form_ends ends[4];
  for (int k = 0; k < 4; k++) {
    bool is_bump = k == CAVUM_BLEND_LEFT || k == CAVUM_BLEND_RIGHT;
    if (w->sums.has_bumps || !is_bump) cavum_form_ends_sum(&ends[k], &sides[k], &w->sums);
  }
  for (int c = 0; c < w->num_chords; c++) {
    const cavum_chord_end *to = &w->chords[c].end;
    const cavum_form_ends *from = &ends[to->part];
    int l = w->chords[c].lane;
    cavum_mesh_gradient_add_end(gradient, &to->at, to->sign * from->z[to->end][l],
                                to->sign * from->r[to->end][l]);
  }
}

static void add_curves(cavum_mesh_gradient *gradient, const work *w, const cavum_form_side sides[4],
                       const double *u) {
  const cavum_reference *ref = w->d->reference;
  for (int c = 0; c < w->num_curved; c++) {
    const curved_part *curved = &w->curved[c];
    const cavum_form_side *from = &sides[curved->part];
    cavum_edge_position by[CAVUM_POINTS_MOST];
    for (int i = 0, l = curved->lane; i < ref->q; i++) {
      by[i] = (cavum_edge_position){from->z[i][l], from->r[i][l], from->z_x[i][l], from->r_x[i][l]};
    }
    if (curved->term >= 0) {
      cavum_form_edges_add_bent(by, &w->edges, curved->term, u, curved->part);
    }
    cavum_mesh_gradient_add_curve(gradient, w->batch->element[curved->lane], curved->part, ref->q,
                                  curved->places, by);
  }
}

// The forms from f on that have its x, as many as are summed up together.
static int count_together(const cavum_form *forms, int f, int count) {
  int together = 1;
  while (f + together < count && together < CAVUM_FORMS_TOGETHER &&
         forms[f + together].x == forms[f].x)
    together++;
  return together;
}

static void values_of(cavum_point_values *to, const work *w, const cavum_form *form,
                      const double *vector) {
  int degree = form->degree > 0 ? form->degree : w->d->reference->degree;
  cavum_discretisation_values(to->value, to->d_xi, to->d_eta, w->d, w->batch, vector, degree);
}

// x of itself, and of no other form.
static bool is_square(const cavum_form *forms, int count) {
  return count == 1 && forms[0].u == forms[0].x;
}

static void sum_forms(work *w, const cavum_form *forms, int count) {
  const cavum_point_values *u[CAVUM_FORMS_TOGETHER];
  cavum_form_masses masses[CAVUM_FORMS_TOGETHER];
  if (is_square(forms, count)) {
    cavum_form_sums_square(w->sides[0], &w->sums, &w->x, forms[0].mass_u + forms[0].mass_x);
    return;
  }
  for (int f = 0; f < count; f++) {
    bool is_x = forms[f].u == forms[f].x;
    u[f] = is_x ? &w->x : &w->u[f];
    masses[f] = (cavum_form_masses){forms[f].mass_u, forms[f].mass_x};
    if (!is_x) values_of(&w->u[f], w, &forms[f], forms[f].u);
  }
  cavum_form_sums(w->sides, &w->sums, &w->x, u, masses, count);
}

static void add_energies(cavum_energy_sums *energies, work *w) {
  cavum_lanes *const values[3] = {w->x.value, w->x.d_xi, w->x.d_eta};
  cavum_discretisation_add_energies(energies, w->d, w->batch, &w->sums.map, w->weight, values);
}

static void add_batch(cavum_mesh_gradient *const *gradients, work *w, const cavum_form *forms,
                      int count, cavum_energy_sums *energies) {
  for (int first = 0, together; first < count; first += together) {
    bool same_x = first > 0 && forms[first].x == forms[first - 1].x;
    together = count_together(forms, first, count);
    if (!same_x) {
      values_of(&w->x, w, &forms[first], forms[first].x);
      cavum_form_edges_set_x(&w->edges, forms[first].x);
    }
    if (first == 0 && energies) add_energies(energies, w);
    bool square = is_square(forms + first, together);
    sum_forms(w, forms + first, together);
    if (square) cavum_form_edges_add_square(gradients[first], &w->edges);
    if (!square) cavum_form_edges_weigh(&w->edges);
    for (int f = 0; f < together; f++) {
      const double *u = forms[first + f].u;
      add_chords(gradients[first + f], w, w->sides[f]);
      add_curves(gradients[first + f], w, w->sides[f], u);
      if (!square) cavum_form_edges_add_straight(gradients[first + f], &w->edges, u);
    }
  }
}

void cavum_form_gradients_add(cavum_mesh_gradient *const *gradients, const cavum_discretisation *d,
                              const cavum_form *forms, int count, cavum_energy_sums *energies) {
  work w;
  w.d = d;
  w.weight_corners = 0;
  w.sums.n = d->reference->q;
  w.sums.x = d->reference->x;
  cavum_form_edges_begin(&w.edges, d);
  for (cavum_index b = 0; b < d->num_batches; b++) {
    begin_batch(&w, &d->batches[b]);
    add_batch(gradients, &w, forms, count, energies);
  }
}
