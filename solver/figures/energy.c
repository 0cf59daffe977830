// SPDX-License-Identifier: GPL-3.0-or-later
// Stored energies by quadrature of the reported fields.
#include "energy.h"

#include "base.h"

enum { POINTS = (CAVUM_POINTS_MOST + 1) * (CAVUM_POINTS_MOST + 1) };

// |curl H|^2 r^2 and H^2 at one point from the unknown x and its reference derivatives: E as in
// cavum_field_at() but for the factor 1 / (w eps).
static void square_fields(double *curl2, double *h2, const cavum_map_point *map, bool is_w,
                          double x, double x_xi, double x_eta) {
  double jacobian = cavum_map_jacobian(map), r = map->r;
  double x_z = (x_xi * map->r_eta - x_eta * map->r_xi) / jacobian;
  double x_r = (-x_xi * map->z_eta + x_eta * map->z_xi) / jacobian;
  double e_z = is_w ? 2.0 * x + r * x_r : x_r / r, e_r = is_w ? r * x_z : x_z / r;
  double h = is_w ? r * x : x / r;
  *curl2 = e_z * e_z + e_r * e_r;
  *h2 = h * h;
}

void cavum_energy_measure(double *electric_j, double *magnetic_j, const cavum_view *view) {
  const cavum_discretisation *d = view->field.discretisation;
  const cavum_reference *ref = d->reference;
  cavum_map_point map[POINTS];
  double local[CAVUM_SHAPES_MOST], x[POINTS], x_xi[POINTS], x_eta[POINTS];
  double electric = 0.0, magnetic = 0.0;
  for (cavum_index e = 0; e < d->mesh->num_elements; e++) {
    int corners = d->mesh->elements[e].num_corners;
    const cavum_region *region = &d->mesh->regions[d->mesh->elements[e].region];
    cavum_discretisation_map(map, d, e);
    cavum_field_gather(local, &view->field, e);
    cavum_discretisation_evaluate(x, x_xi, x_eta, d, e, local);
    for (int i = 0; i < cavum_reference_points(ref, corners); i++) {
      double weight = corners == 4 ? ref->weight[i % ref->q] * ref->weight[i / ref->q]
                                   : ref->triangle_weight[i];
      double curl2, h2;
      square_fields(&curl2, &h2, &map[i], d->unknown == CAVUM_UNKNOWN_H_OVER_R, x[i], x_xi[i],
                    x_eta[i]);
      weight *= 2.0 * CAVUM_PI * map[i].r * cavum_map_jacobian(&map[i]);
      electric += weight * curl2 / region->eps_r;
      magnetic += weight * region->mu_r * h2;
    }
  }
  double w = view->field.angular_frequency;
  *electric_j = 0.5 * view->copies * electric / (w * w * CAVUM_EPS0);
  *magnetic_j = 0.5 * CAVUM_MU0 * view->copies * magnetic;
}
