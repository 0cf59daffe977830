// SPDX-License-Identifier: GPL-3.0-or-later
// Samples of a decay that stand alone. The scatter is that of the samples about it: towards the
// floor of a meter it is larger than at the start.
#include "coldtest/spikes.h"

#include <gsl/gsl_sort.h>

#include "base/base.h"

enum { SIDE = 2, ABOUT = 8 };
// Ten standard deviations beyond the outermost of four neighbours: no chance in any trace.
static const double FAR_OFF = 10.0;
// Of a normal distribution: standard deviation over the median of what is off.
static const double OF_MEDIAN = 1.4826;
// Steps of a recorder without noise scatter by nothing; less than this does no harm.
static const double LEAST = 0.05;

static void sort_neighbours(double out[2 * SIDE], const double *log_power, int64_t index) {
  for (int k = 0; k < SIDE; k++) {
    out[k] = log_power[index - 1 - k];
    out[SIDE + k] = log_power[index + 1 + k];
  }
  gsl_sort(out, 1, 2 * SIDE);
}

static double scatter_about(const double *log_power, int64_t count, int64_t index) {
  double off[2 * ABOUT + 1];
  int found = 0;
  for (int64_t i = index - ABOUT; i <= index + ABOUT; i++) {
    double near[2 * SIDE];
    if (i < SIDE || i >= count - SIDE) continue;
    sort_neighbours(near, log_power, i);
    off[found++] = fabs(log_power[i] - 0.5 * (near[SIDE - 1] + near[SIDE]));
  }
  gsl_sort(off, 1, (size_t)found);
  return OF_MEDIAN * off[found / 2];
}

bool cavum_is_spike(const double *log_power, int64_t count, int64_t index, double sigma) {
  double near[2 * SIDE];
  if (index < SIDE || index >= count - SIDE) return false;
  sort_neighbours(near, log_power, index);
  double beyond = cavum_max(log_power[index] - near[2 * SIDE - 1], near[0] - log_power[index]);
  if (!(beyond > LEAST)) return false;
  double scatter = cavum_max(scatter_about(log_power, count, index), sigma);
  return beyond > FAR_OFF * scatter;
}
