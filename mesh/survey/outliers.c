// SPDX-License-Identifier: GPL-3.0-or-later
// Medians, which a tenth of wild points does not move.
#include "survey/outliers.h"

#include <math.h>
#include <stdlib.h>

#include "base/base.h"

// Neighbours to either side in the first choice, which is a wide one.
enum { NEIGHBOURS = 5 };
// No machine is so good that a point this near is wild.
static const double LEAST_M = 1e-6;
static const double FIRST_DEVIATIONS = 8.0, DEVIATIONS = 4.0, DEVIATIONS_OF_MAD = 1.4826;

/** A point in the order of the wall. */
typedef struct entry {
  int64_t point;
  int run;
  double along_m;
} entry;

static int compare_entries(const void *a, const void *b) {
  const entry *x = a, *y = b;
  if (x->run != y->run) return x->run < y->run ? -1 : 1;
  if (x->along_m != y->along_m) return x->along_m < y->along_m ? -1 : 1;
  return x->point < y->point ? -1 : x->point > y->point;
}

static int compare(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

static double median(double *values, int64_t n) {
  if (n == 0) return 0.0;
  qsort(values, (size_t)n, sizeof *values, compare);
  return n % 2 ? values[n / 2] : 0.5 * (values[n / 2 - 1] + values[n / 2]);
}

// Distance of each point from the median of its neighbours in its run.
static void set_distances(double *distance_m, const entry *entries, int64_t n,
                          const double *value_m) {
  for (int64_t i = 0; i < n; i++) {
    double near[2 * NEIGHBOURS + 1];
    int count = 0;
    for (int64_t j = i - NEIGHBOURS; j <= i + NEIGHBOURS; j++) {
      if (j < 0 || j >= n || entries[j].run != entries[i].run) continue;
      near[count++] = value_m[entries[j].point];
    }
    distance_m[i] = fabs(value_m[entries[i].point] - median(near, count));
  }
}

cavum_status cavum_survey_screen(unsigned char *used, const cavum_survey_view *view,
                                 const double *value_m, double scatter_m, cavum_error *error) {
  int64_t n = 0;
  entry *entries = cavum_alloc(view->num_points, sizeof *entries);
  double *distance_m = cavum_alloc(2 * view->num_points, sizeof *distance_m);
  if (!entries || !distance_m) {
    free(entries);
    free(distance_m);
    return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < view->num_points; i++) {
    used[i] = 0;
    if (view->feet[i].beyond) continue;
    entries[n++] = (entry){i, view->feet[i].run, view->feet[i].along_m};
  }
  if (n > 0) qsort(entries, (size_t)n, sizeof *entries, compare_entries);
  set_distances(distance_m, entries, n, value_m);
  double *sorted = distance_m + view->num_points;
  for (int64_t i = 0; i < n; i++) sorted[i] = distance_m[i];
  double spread = cavum_max(scatter_m, DEVIATIONS_OF_MAD * median(sorted, n));
  for (int64_t i = 0; i < n; i++) {
    used[entries[i].point] = distance_m[i] <= cavum_max(LEAST_M, FIRST_DEVIATIONS * spread);
  }
  free(entries);
  free(distance_m);
  return CAVUM_OK;
}

bool cavum_survey_reject(unsigned char *used, double *work, const cavum_survey_view *view,
                         const double *residual_m, double scatter_m) {
  int64_t n = 0;
  bool changed = false;
  for (int64_t i = 0; i < view->num_points; i++) {
    if (!view->feet[i].beyond) work[n++] = fabs(residual_m[i]);
  }
  double spread = cavum_max(scatter_m, DEVIATIONS_OF_MAD * median(work, n));
  double limit_m = cavum_max(LEAST_M, DEVIATIONS * spread);
  for (int64_t i = 0; i < view->num_points; i++) {
    bool use = !view->feet[i].beyond && fabs(residual_m[i]) <= limit_m;
    changed = changed || use != (used[i] != 0);
    used[i] = use;
  }
  return changed;
}
