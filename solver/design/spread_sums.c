// SPDX-License-Identifier: GPL-3.0-or-later
// Sums of a spread: linear ones over dimensions, sampled ones over drawn shapes.
#include "design/spread_sums.h"

#include <stdlib.h>

#include "base/base.h"

// Part of the samples between the two limits that are given.
static const double COVERED = 0.95;

void cavum_spread_fill_linear(cavum_figure_spread *f, const cavum_spread *made) {
  int n = made->num_dimensions;
  double variance = 0.0;
  for (int i = 0; i < n; i++) {
    double part = 0.0;
    for (int k = 0; k < n; k++) part += made->covariance[i * n + k] * f->slope[k];
    f->share[i] = f->slope[i] * part;
    variance += f->share[i];
  }
  f->deviation = sqrt(cavum_max(variance, 0.0));
  for (int i = 0; i < n; i++) f->share[i] = variance > 0.0 ? f->share[i] / variance : 0.0;
  f->has_shares = true;
}

double cavum_spread_find_rest(int *kept, const cavum_figure_spread *f, const cavum_spread *made,
                              const double *sample, const double *shapes, int count) {
  double square = 0.0;
  *kept = 0;
  for (int i = 0; i < count; i++) {
    const double *values = shapes + (int64_t)i * made->num_dimensions;
    double rest = sample[i] - f->value;
    for (int j = 0; j < made->num_dimensions; j++) {
      rest -= f->slope[j] * (values[j] - made->dimensions[j].value);
    }
    if (isnan(rest)) continue;
    square += rest * rest;
    ++*kept;
  }
  return *kept > 0 ? sqrt(square / *kept) : NAN;
}

static int compare(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

void cavum_spread_sum_up(cavum_figure_spread *f, double *sample, int count) {
  int kept = 0;
  double sum = 0.0, square = 0.0;
  for (int i = 0; i < count; i++) {
    if (isnan(sample[i])) continue;
    sample[kept++] = sample[i];
    sum += sample[i] - f->value;
  }
  if (kept < 2) return;
  double mean = sum / kept;
  for (int i = 0; i < kept; i++) {
    double off = sample[i] - f->value - mean;
    square += off * off;
  }
  qsort(sample, (size_t)kept, sizeof *sample, compare);
  int cut = (int)(0.5 * (1.0 - COVERED) * kept);
  f->sampled_mean = f->value + mean;
  f->sampled_deviation = sqrt(square / (kept - 1));
  f->sampled_low = sample[cut];
  f->sampled_high = sample[kept - 1 - cut];
}
