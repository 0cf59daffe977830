// SPDX-License-Identifier: GPL-3.0-or-later
// Uncertainty from a hierarchy of degrees.
#include "uncertainty.h"

#include <string.h>

#include "base.h"

static const double RATIO_LEAST = 0.2, RATIO_MOST = 0.95, LUCK = 0.05, SAFETY = 2.0;

void cavum_history_add(cavum_history *history, double value) {
  if (history->count == CAVUM_HISTORY_MOST) {
    memmove(history->value, history->value + 1, sizeof history->value - sizeof *history->value);
    history->count--;
  }
  history->value[history->count++] = value;
}

static double ratio_of(double now, double before) {
  if (before <= 0.0) return now > 0.0 ? RATIO_MOST : RATIO_LEAST;
  return cavum_min(RATIO_MOST, cavum_max(RATIO_LEAST, now / before));
}

double cavum_uncertainty_of_last(const cavum_history *history, double floor_relative) {
  int n = history->count;
  if (n < 2) return HUGE_VAL;
  const double *q = history->value;
  double rounding = floor_relative * fabs(q[n - 1]), d = fabs(q[n - 1] - q[n - 2]);
  if (n < 3) return cavum_max(rounding, d);
  double before = fabs(q[n - 2] - q[n - 3]), first = n > 3 ? fabs(q[n - 3] - q[n - 4]) : 0.0;
  // Differences at the rounding floor say nothing about a ratio.
  double ratio = d > rounding ? ratio_of(d, before) : RATIO_LEAST;
  if (n > 3 && before > rounding) ratio = cavum_max(ratio, ratio_of(before, first));
  d = cavum_max(d, LUCK * before);
  return cavum_max(rounding, SAFETY * d * ratio / (1.0 - ratio));
}
