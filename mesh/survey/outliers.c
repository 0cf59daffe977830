// SPDX-License-Identifier: GPL-3.0-or-later
// Medians, which a tenth of wild points does not move. A point that is far off is wild only if it
// is alone: neighbours that are off to the same side, or that lead to the point, are metal.
#include "survey/outliers.h"

#include <math.h>
#include <stdlib.h>

#include "base/base.h"

// Neighbours to either side in the first choice, which is a wide one.
enum { NEIGHBOURS = 5 };
// No machine is so good that a point this near is wild.
static const double LEAST_M = 1e-6;
static const double FIRST_DEVIATIONS = 8.0, DEVIATIONS = 4.0, DEVIATIONS_OF_MAD = 1.4826;
// Wild points are neighbours of each other by chance: so many runs of them are expected at most
// where a run is taken for metal.
static const double RUNS_BY_CHANCE = 0.01;
// In a run a point is off by at most so many times what its neighbours there are.
static const double ABOVE_NEIGHBOURS = 3.0;
// What is foreseen from neighbours has at most so many times the variance of one of them: a line
// that goes on beyond two even points has 5.
static const double VARIANCE_MOST = 8.0;

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

// Distance of each point from the median of its neighbours in its run, with its sign.
static void set_distances(double *distance_m, const entry *entries, int64_t n,
                          const double *value_m) {
  for (int64_t i = 0; i < n; i++) {
    double near[2 * NEIGHBOURS + 1];
    int count = 0;
    for (int64_t j = i - NEIGHBOURS; j <= i + NEIGHBOURS; j++) {
      if (j < 0 || j >= n || entries[j].run != entries[i].run) continue;
      near[count++] = value_m[entries[j].point];
    }
    distance_m[i] = value_m[entries[i].point] - median(near, count);
  }
}

/** Points in the order of the wall. */
typedef struct order {
  int64_t n;
  entry *entries;         /**< Owned, shape [n]. */
  double *off_m;          /**< Owned: of each from what is expected of it, shape [n]. */
  unsigned char *far_off; /**< Owned, shape [n]. */
  const double *value_m;  /**< By point. */
  double spread_m, limit_m;
} order;

static void clear_order(order *o) {
  free(o->entries);
  free(o->off_m);
  free(o->far_off);
}

static cavum_status make_order(order *o, const cavum_survey_view *view, const double *value_m,
                               cavum_error *error) {
  *o = (order){.value_m = value_m};
  o->entries = cavum_alloc(view->num_points, sizeof *o->entries);
  o->off_m = cavum_alloc(2 * view->num_points, sizeof *o->off_m);
  o->far_off = cavum_alloc(view->num_points, 1);
  if (!o->entries || !o->off_m || !o->far_off) {
    clear_order(o);
    return cavum_fail_memory(error);
  }
  for (int64_t i = 0; i < view->num_points; i++) {
    if (view->feet[i].beyond) continue;
    o->entries[o->n++] = (entry){i, view->feet[i].run, view->feet[i].along_m};
  }
  if (o->n > 0) qsort(o->entries, (size_t)o->n, sizeof *o->entries, compare_entries);
  return CAVUM_OK;
}

// ---- neighbours

static bool is_neighbour(const order *o, int64_t i, int64_t j) {
  return j >= 0 && j < o->n && o->entries[j].run == o->entries[i].run;
}

static bool is_with(const order *o, int64_t i, int64_t j) {
  return is_neighbour(o, i, j) && o->far_off[j] && (o->off_m[j] > 0.0) == (o->off_m[i] > 0.0);
}

// Whether a point of a run is farther off than the metal there could be.
static bool stands_out(const order *o, int64_t i) {
  double beside_m = 0.0;
  for (int64_t j = i - 1; j <= i + 1; j += 2) {
    if (is_with(o, i, j)) beside_m = cavum_max(beside_m, fabs(o->off_m[j]));
  }
  return fabs(o->off_m[i]) > cavum_max(ABOVE_NEIGHBOURS * beside_m, o->limit_m);
}

// Whether the line through two neighbours, which climbs by more than their scatter, meets a point.
static bool is_on_line(const order *o, int64_t i, int64_t a, int64_t b) {
  if (!is_neighbour(o, i, a) || !is_neighbour(o, i, b)) return false;
  const entry *at = &o->entries[i], *x = &o->entries[a], *y = &o->entries[b];
  double apart_m = y->along_m - x->along_m;
  double climb_m = o->value_m[y->point] - o->value_m[x->point];
  if (!(fabs(apart_m) > 0.0) || fabs(climb_m) <= sqrt(2.0) * o->limit_m) return false;
  double part = (at->along_m - x->along_m) / apart_m;
  double variance = (1.0 - part) * (1.0 - part) + part * part;
  double off_m = o->value_m[at->point] - o->value_m[x->point] - part * climb_m;
  return variance <= VARIANCE_MOST && fabs(off_m) <= sqrt(1.0 + variance) * o->limit_m;
}

// Whether the next point is off to the same side by the same.
static bool has_equal(const order *o, int64_t i, int64_t j) {
  if (!is_with(o, i, j)) return false;
  double off_m = o->value_m[o->entries[i].point] - o->value_m[o->entries[j].point];
  return fabs(off_m) <= sqrt(2.0) * o->limit_m;
}

static bool agrees(const order *o, int64_t i) {
  return has_equal(o, i, i - 1) || has_equal(o, i, i + 1) || is_on_line(o, i, i - 2, i - 1) ||
         is_on_line(o, i, i + 2, i + 1) || is_on_line(o, i, i - 1, i + 1);
}

// A share p of the points being far off, n p (p / 2)^(m - 1) runs of m on one side are expected by
// chance.
static int64_t shortest_run(const order *o) {
  double far_off = 0.0;
  for (int64_t i = 0; i < o->n; i++) far_off += o->far_off[i];
  double expected = far_off, half = 0.5 * far_off / cavum_max(1.0, (double)o->n);
  int64_t m = 1;
  for (; expected > RUNS_BY_CHANCE; m++) expected *= half;
  return m;
}

// Takes what is metal from the points that are far off: 2 of a mark is metal until all are seen.
static void keep_metal(order *o) {
  enum { METAL = 2 };
  int64_t least = shortest_run(o);
  for (int64_t i = 0, end; i < o->n; i = end) {
    end = i + 1;
    if (!o->far_off[i]) continue;
    while (is_with(o, i, end)) end++;
    for (int64_t k = i; k < end; k++) {
      bool metal = (end - i >= least && !stands_out(o, k)) || agrees(o, k);
      if (metal) o->far_off[k] = METAL;
    }
  }
  for (int64_t i = 0; i < o->n; i++) o->far_off[i] = o->far_off[i] == 1;
}

// Marks what is farther off than so many robust deviations and alone.
static void mark(order *o, double deviations, double scatter_m) {
  double *sorted = o->off_m + o->n;
  for (int64_t i = 0; i < o->n; i++) sorted[i] = fabs(o->off_m[i]);
  o->spread_m = cavum_max(scatter_m, DEVIATIONS_OF_MAD * median(sorted, o->n));
  double far_m = cavum_max(LEAST_M, deviations * o->spread_m);
  o->limit_m = cavum_max(LEAST_M, DEVIATIONS * o->spread_m);
  for (int64_t i = 0; i < o->n; i++) o->far_off[i] = fabs(o->off_m[i]) > far_m;
  keep_metal(o);
}

// Whether the choice of the points has changed.
static bool choose(unsigned char *used, const order *o, const cavum_survey_view *view) {
  bool changed = false;
  for (int64_t i = 0; i < view->num_points; i++) {
    changed = changed || (view->feet[i].beyond && used[i]);
    if (view->feet[i].beyond) used[i] = 0;
  }
  for (int64_t i = 0; i < o->n; i++) {
    unsigned char *use = &used[o->entries[i].point], wanted = !o->far_off[i];
    changed = changed || *use != wanted;
    *use = wanted;
  }
  return changed;
}

cavum_status cavum_survey_screen(unsigned char *used, const cavum_survey_view *view,
                                 const double *value_m, double scatter_m, cavum_error *error) {
  order o;
  cavum_status status = make_order(&o, view, value_m, error);
  if (status != CAVUM_OK) return status;
  set_distances(o.off_m, o.entries, o.n, value_m);
  mark(&o, FIRST_DEVIATIONS, scatter_m);
  choose(used, &o, view);
  clear_order(&o);
  return CAVUM_OK;
}

cavum_status cavum_survey_reject(unsigned char *used, bool *changed, const cavum_survey_view *view,
                                 const cavum_survey_misfit *misfit, double scatter_m,
                                 cavum_error *error) {
  order o;
  cavum_status status = make_order(&o, view, misfit->value_m, error);
  if (status != CAVUM_OK) return status;
  for (int64_t i = 0; i < o.n; i++) o.off_m[i] = misfit->residual_m[o.entries[i].point];
  mark(&o, DEVIATIONS, scatter_m);
  *changed = choose(used, &o, view);
  clear_order(&o);
  return CAVUM_OK;
}
