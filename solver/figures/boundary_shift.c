// SPDX-License-Identifier: GPL-3.0-or-later
// First-order changes of a frequency, edge by edge.
#include "figures/boundary_shift.h"

#include "base/base.h"
#include "fem/quadrature.h"

// Density and displacement of a side of order 10 under a field of degree 16 are far from this.
enum { RULE = 20 };

static const cavum_region *region_of(const cavum_mesh *mesh, cavum_index element) {
  return element < 0 ? NULL : &mesh->regions[mesh->elements[element].region];
}

// What is in the brackets, from the field in the first region; J/m^3.
static double density(const cavum_field_point *at, cavum_point tangent, const cavum_region *inside,
                      const cavum_region *outside) {
  double e_t = at->e_z_v_per_m * tangent.z_m + at->e_r_v_per_m * tangent.r_m;
  double e_n = at->e_z_v_per_m * tangent.r_m - at->e_r_v_per_m * tangent.z_m;
  double d_n = CAVUM_EPS0 * inside->eps_r * e_n, h = at->h_phi_a_per_m;
  double eps = inside->eps_r, over_eps = 1.0 / inside->eps_r, mu = inside->mu_r;
  if (outside) {
    eps -= outside->eps_r;
    over_eps -= 1.0 / outside->eps_r;
    mu -= outside->mu_r;
  }
  return CAVUM_EPS0 * eps * e_t * e_t - over_eps / CAVUM_EPS0 * d_n * d_n + CAVUM_MU0 * mu * h * h;
}

// Relative change of the frequency by one edge at one joule.
static double change_by(const cavum_view *view, const cavum_curve_guess *guess, cavum_index e,
                        const double *s, const double *weight) {
  double local[CAVUM_SHAPES_MOST], sum = 0.0;
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_edge *edge = &mesh->edges[e];
  const cavum_element *element = &mesh->elements[edge->element[0]];
  double sense = element->reversed[(int)edge->local[0]] ? -1.0 : 1.0;
  cavum_field_gather(local, &view->field, edge->element[0]);
  for (int i = 0; i < RULE; i++) {
    double xi, eta;
    cavum_element_edge_point(&xi, &eta, element, edge->local[0], s[i]);
    cavum_field_point at = cavum_field_at(&view->field, edge->element[0], local, xi, eta);
    cavum_edge_position side = cavum_element_edge_at(mesh, edge->element[0], edge->local[0], s[i]);
    double length = hypot(side.z_x, side.r_x);
    cavum_point tangent = {side.z_x / length, side.r_x / length};
    cavum_point way = cavum_curve_guess_at(guess, mesh, e, sense * s[i]);
    double outwards = way.z_m * tangent.r_m - way.r_m * tangent.z_m;  // right of travel
    sum +=
        weight[i] * outwards * length * 2.0 * CAVUM_PI * at.r_m *
        density(&at, tangent, region_of(mesh, edge->element[0]), region_of(mesh, edge->element[1]));
  }
  return -0.25 * view->copies * sum;
}

double cavum_boundary_shift_sum(const cavum_view *view, const cavum_curve_guess *guess) {
  double s[RULE], weight[RULE], sum = 0.0;
  cavum_quadrature_gauss(s, weight, RULE);
  for (cavum_index e = 0; e < guess->num_edges; e++) {
    if (guess->edges[e].fit.num_nodes == 0) continue;
    sum += fabs(change_by(view, guess, e, s, weight));
  }
  return sum;
}
