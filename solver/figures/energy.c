// SPDX-License-Identifier: GPL-3.0-or-later
// Stored energies by quadrature of the reported fields.
#include "energy.h"

#include "base.h"
#include "element_map.h"
#include "quadrature.h"

static void add_point(double *electric, double *magnetic, const cavum_view *view, cavum_index e,
                      const double *local, double xi, double eta, double weight) {
  const cavum_mesh *mesh = view->field.discretisation->mesh;
  const cavum_region *region = &mesh->regions[mesh->elements[e].region];
  cavum_map_point map = cavum_element_map_at(mesh, e, xi, eta);
  cavum_field_point at = cavum_field_at(&view->field, e, local, xi, eta);
  double volume = 2.0 * CAVUM_PI * map.r * cavum_map_jacobian(&map) * weight;
  *electric +=
      volume * region->eps_r * (at.e_z_v_per_m * at.e_z_v_per_m + at.e_r_v_per_m * at.e_r_v_per_m);
  *magnetic += volume * region->mu_r * at.h_phi_a_per_m * at.h_phi_a_per_m;
}

void cavum_energy_measure(double *electric_j, double *magnetic_j, const cavum_view *view) {
  const cavum_discretisation *d = view->field.discretisation;
  const cavum_reference *ref = d->reference;
  double local[CAVUM_SHAPES_MOST], electric = 0.0, magnetic = 0.0;
  for (cavum_index e = 0; e < d->mesh->num_elements; e++) {
    int corners = d->mesh->elements[e].num_corners;
    cavum_field_gather(local, &view->field, e);
    for (int i = 0; i < cavum_reference_points(ref, corners); i++) {
      double xi = corners == 4 ? ref->x[i % ref->q] : ref->triangle_xi[i];
      double eta = corners == 4 ? ref->x[i / ref->q] : ref->triangle_eta[i];
      double weight = corners == 4 ? ref->weight[i % ref->q] * ref->weight[i / ref->q]
                                   : ref->triangle_weight[i];
      add_point(&electric, &magnetic, view, e, local, xi, eta, weight);
    }
  }
  *electric_j = 0.5 * CAVUM_EPS0 * view->copies * electric;
  *magnetic_j = 0.5 * CAVUM_MU0 * view->copies * magnetic;
}
