// SPDX-License-Identifier: GPL-3.0-or-later
// Weighted quantiles. Meshes are fine where fields are steep: counting points instead of length or
// area would let a few square millimetres at a corner set the scale of a picture.
#include "canvas/quantile.h"

#include "base/base.h"

typedef struct weighted_value {
  double value, weight;
} weighted_value;

static int compare(const void *left, const void *right) {
  double a = ((const weighted_value *)left)->value, b = ((const weighted_value *)right)->value;
  return (a > b) - (a < b);
}

cavum_status cavum_quantile_find(double *value, const double *values, const double *weights,
                                 int count, double share, cavum_error *error) {
  if (share >= 1.0) {
    double largest = -HUGE_VAL;
    for (int i = 0; i < count; i++) {
      if (isfinite(values[i])) largest = cavum_max(largest, values[i]);
    }
    *value = isfinite(largest) ? largest : 0.0;
    return CAVUM_OK;
  }
  weighted_value *sorted = cavum_alloc(count, sizeof *sorted);
  if (!sorted) return cavum_fail_memory(error);
  int n = 0;
  double total = 0.0, sum = 0.0;
  for (int i = 0; i < count; i++) {
    if (!isfinite(values[i])) continue;
    sorted[n++] = (weighted_value){values[i], weights ? weights[i] : 1.0};
    total += sorted[n - 1].weight;
  }
  qsort(sorted, (size_t)n, sizeof *sorted, compare);
  *value = n > 0 ? sorted[n - 1].value : 0.0;
  for (int i = 0; i < n; i++) {
    sum += sorted[i].weight;
    if (sum < share * total) continue;
    *value = sorted[i].value;
    break;
  }
  free(sorted);
  return CAVUM_OK;
}
