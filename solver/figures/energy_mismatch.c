// SPDX-License-Identifier: GPL-3.0-or-later
// Stored energies by quadrature of the reported fields.
#include "figures/energy_mismatch.h"

#include "base/base.h"

// U_E over U_H; what both have in common cancels.
double cavum_energy_mismatch_of(const cavum_energy_sums *sums, double angular_frequency) {
  double w = angular_frequency;
  return fabs(sums->curl2 / (w * w * CAVUM_EPS0 * CAVUM_MU0 * sums->h2) - 1.0);
}

cavum_status cavum_energy_mismatch(double *mismatch, const cavum_view *views, int count,
                                   cavum_error *error) {
  cavum_energy_sums *sums = cavum_alloc(count, sizeof *sums);
  const double **vectors = cavum_alloc(count, sizeof *vectors);
  cavum_status status = CAVUM_OK;
  if (!sums || !vectors) CAVUM_TRY(cavum_fail_memory(error));
  for (int m = 0; m < count; m++) vectors[m] = views[m].field.vector;
  cavum_discretisation_energies(sums, views[0].field.discretisation, vectors, count);
  for (int m = 0; m < count; m++) {
    mismatch[m] = cavum_energy_mismatch_of(&sums[m], views[m].field.angular_frequency);
  }
done:
  free(sums);
  free(vectors);
  return status;
}
