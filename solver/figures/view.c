// SPDX-License-Identifier: GPL-3.0-or-later
// The scaling of half models.
#include "figures/view.h"

#include <math.h>

cavum_view cavum_view_create(const cavum_discretisation *discretisation,
                             const cavum_mesh_boundary *boundary, const double *vector,
                             double k2_per_m2, cavum_parity parity) {
  cavum_view view = {.field = cavum_field_create(discretisation, vector, k2_per_m2),
                     .boundary = boundary,
                     .parity = parity,
                     .copies = parity == CAVUM_PARITY_NONE ? 1.0 : 2.0};
  view.field.scale /= sqrt(view.copies);  // half of the joule is in the meshed half
  return view;
}
