// SPDX-License-Identifier: GPL-3.0-or-later
// Stored energies by quadrature of the reported fields.
#include "energy.h"

#include "base.h"

void cavum_energy_measure(double *electric_j, double *magnetic_j, const cavum_view *view) {
  const cavum_field *field = &view->field;
  double curl2, h2, w = field->angular_frequency;
  cavum_discretisation_energies(&curl2, &h2, field->discretisation, field->vector);
  double factor = CAVUM_PI * view->copies * field->scale * field->scale;
  *electric_j = factor * curl2 / (w * w * CAVUM_EPS0);
  *magnetic_j = factor * CAVUM_MU0 * h2;
}
