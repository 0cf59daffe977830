// SPDX-License-Identifier: GPL-3.0-or-later
// Linear conditioning of normal numbers, one measurement after the other.
#include "steps/condition.h"

#include <string.h>

void cavum_condition_start(cavum_condition *condition) {
  int n = condition->count;
  for (int i = 0; i < n; i++) {
    condition->mean[i] = 0.0;
    for (int k = 0; k < n; k++) condition->covariance[i * n + k] = i == k ? 1.0 : 0.0;
  }
}

static double dot(const double *a, const double *b, int n) {
  double sum = 0.0;
  for (int i = 0; i < n; i++) sum += a[i] * b[i];
  return sum;
}

double cavum_condition_mean(const cavum_condition *condition, const double *row) {
  return dot(condition->mean, row, condition->count);
}

double cavum_condition_variance(const cavum_condition *condition, const double *row) {
  double sum = 0.0;
  int n = condition->count;
  for (int i = 0; i < n; i++) sum += row[i] * dot(condition->covariance + i * n, row, n);
  return sum > 0.0 ? sum : 0.0;
}

void cavum_condition_measure(cavum_condition *condition, const double *row, double value,
                             double variance) {
  int n = condition->count;
  double *column = condition->work;  // covariance . row
  for (int i = 0; i < n; i++) column[i] = dot(condition->covariance + i * n, row, n);
  double known = dot(column, row, n), total = known + variance;
  if (!(known > 0.0) || !(total > 0.0)) return;
  double miss = value - cavum_condition_mean(condition, row);
  for (int i = 0; i < n; i++) {
    condition->mean[i] += column[i] / total * miss;
    for (int k = 0; k < n; k++) condition->covariance[i * n + k] -= column[i] * column[k] / total;
  }
}
