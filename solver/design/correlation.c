// SPDX-License-Identifier: GPL-3.0-or-later
#include "design/correlation.h"

#include "base/base.h"

// Pivots below this are rounding of 1: what is left is fully correlated with what came before.
static const double NOTHING = 1e-10;

// Cholesky's factorisation; a pivot that is nothing leaves a column of zeros, as its column must
// be.
bool cavum_correlation_root(double *root, const double *correlation, int count) {
  for (int j = 0; j < count; j++) {
    double pivot = correlation[j * count + j];
    for (int k = 0; k < j; k++) pivot -= root[j * count + k] * root[j * count + k];
    if (pivot < -NOTHING) return false;
    bool nothing = pivot < NOTHING;
    root[j * count + j] = nothing ? 0.0 : sqrt(pivot);
    for (int i = j + 1; i < count; i++) {
      double sum = correlation[i * count + j];
      for (int k = 0; k < j; k++) sum -= root[i * count + k] * root[j * count + k];
      if (nothing && fabs(sum) > sqrt(NOTHING)) return false;
      root[i * count + j] = nothing ? 0.0 : sum / root[j * count + j];
      root[j * count + i] = 0.0;
    }
  }
  return true;
}

void cavum_correlation_of_draws(double *correlation, const cavum_tolerances *tolerances) {
  int n = tolerances->count;
  for (int i = 0; i < n; i++) {
    for (int k = 0; k < n; k++) {
      double c = tolerances->correlation[i * n + k];
      bool uniform = tolerances->list[i].kind == CAVUM_TOLERANCE_UNIFORM;
      correlation[i * n + k] = uniform && i != k ? 2.0 * sin(CAVUM_PI * c / 6.0) : c;
    }
  }
}
