// SPDX-License-Identifier: GPL-3.0-or-later
// Stored energies by quadrature of the reported fields.
#include "figures/energy_mismatch.h"

#include "base/base.h"
#include "fem/apply.h"

cavum_status cavum_energy_mismatch(double *mismatch, const cavum_view *views, int count,
                                   cavum_error *error) {
  double *h2 = cavum_alloc(count, sizeof *h2);
  const double **vectors = cavum_alloc(count, sizeof *vectors);
  cavum_status status = CAVUM_OK;
  if (!h2 || !vectors) CAVUM_TRY(cavum_fail_memory(error));
  for (int m = 0; m < count; m++) vectors[m] = views[m].field.vector;
  cavum_discretisation_energies(mismatch, h2, views[0].field.discretisation, vectors, count);
  for (int m = 0; m < count; m++) {
    // U_E over U_H; what both have in common cancels.
    double w = views[m].field.angular_frequency;
    double ratio = mismatch[m] / (w * w * CAVUM_EPS0 * CAVUM_MU0 * h2[m]);
    mismatch[m] = fabs(ratio - 1.0);
  }
done:
  free(h2);
  free(vectors);
  return status;
}
