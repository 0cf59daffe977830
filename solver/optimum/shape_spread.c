// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape by the tolerances of dimensions: sqrt(s' C s) of their derivatives s, and
// means by second differences, which have no noise here.
#include "optimum/shape_spread.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "cell/cell.h"
#include "design/correlation.h"
#include "design/trial.h"
#include "optimum/mean.h"
#include "optimum/rates.h"

enum { LEFT, RIGHT, WHOLE };
// Of standard deviations, to either side.
static const double STEP = 0.1;

static bool is_smaller_of_both(cavum_geometry_id figure) {
  return figure <= CAVUM_GEOMETRY_APERTURE_RADIUS;
}

static int find(const cavum_geometry *g, const char *key) {
  for (int k = 0; k < g->num_dimensions; k++) {
    if (strcmp(g->dimensions[k].key, key) == 0) return k;
  }
  return -1;
}

// How much of the derivative by a dimension of both halves is that by one of them, of what is
// `side` of the two.
static double part_of_half(const char *key, cavum_geometry_id figure, int side) {
  bool own = (key[0] == 'l') == (side == LEFT);
  if (is_smaller_of_both(figure)) return own ? 1.0 : 0.0;
  return 0.5;
}

// Change by one deviation of a tolerance.
static cavum_status find_change(double *change, const cavum_geometry *g, const cavum_tolerance *t,
                                cavum_geometry_id figure, int side, cavum_error *error) {
  const char *both = cavum_optimum_key_of_both(t->key);
  int k = find(g, t->key);
  double part = 1.0;
  if (k < 0 && both) {
    k = find(g, both);
    part = part_of_half(t->key, figure, side);
  }
  double slope = k < 0 ? NAN : g->slope[k * CAVUM_GEOMETRY_ROOM + (int)figure];
  if (!isfinite(slope)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%s has no derivative by %s, which has a tolerance: two places have the "
                      "smallest value",
                      cavum_geometry_describe(figure).key, t->key);
  }
  *change = part * slope * cavum_tolerance_deviation(t) * g->dimensions[k].unit_si;
  return CAVUM_OK;
}

static cavum_status find_on_side(double *deviation, const cavum_geometry *g,
                                 const cavum_tolerances *tolerances, cavum_geometry_id figure,
                                 int side, cavum_error *error) {
  double change[CAVUM_TOLERANCES_MOST], sum = 0.0;
  int n = tolerances->count;
  for (int t = 0; t < n; t++) {
    cavum_status status = find_change(&change[t], g, &tolerances->list[t], figure, side, error);
    if (status != CAVUM_OK) return status;
  }
  for (int t = 0; t < n; t++) {
    for (int u = 0; u < n; u++) sum += change[t] * tolerances->correlation[t * n + u] * change[u];
  }
  *deviation = sqrt(cavum_max(sum, 0.0));
  return CAVUM_OK;
}

cavum_status cavum_shape_spread_find(double *deviation, const cavum_cell *cell,
                                     const cavum_tolerances *tolerances, cavum_geometry_id figure,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_geometry *g = NULL;
  double of_side[2];
  CAVUM_TRY(cavum_geometry_measure(&g, cell, true, error));
  if (!isfinite(g->value[figure])) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_INPUT, "the cell has no %s",
                         cavum_geometry_describe(figure).key));
  }
  for (int side = LEFT; side <= RIGHT; side++) {
    CAVUM_TRY(find_on_side(&of_side[side], g, tolerances, figure, side, error));
  }
  *deviation = cavum_max(of_side[LEFT], of_side[RIGHT]);
  if (figure == CAVUM_GEOMETRY_STRAIGHT_LENGTH) *deviation *= 2.0 * g->value[figure];
done:
  cavum_geometry_destroy(&g);
  return status;
}

// ---- means

// The tolerances of one half, or of both, as dimensions of a cell whose halves agree: what one half
// does by itself, both do then.
static cavum_status open_side(cavum_trial *trial, int *of_tolerance, const cavum_cell *cell,
                              const cavum_tolerances *tolerances, int side, cavum_error *error) {
  cavum_status status = cavum_trial_open(trial, cell, NULL, error);
  for (int t = 0; t < tolerances->count && status == CAVUM_OK; t++) {
    const char *key = tolerances->list[t].key, *both = cavum_optimum_key_of_both(key);
    of_tolerance[t] = -1;
    if (side != WHOLE && both && (key[0] == 'l') != (side == LEFT)) continue;
    of_tolerance[t] = trial->num_dimensions;
    status = cavum_trial_add(trial, side != WHOLE && both ? both : key, error);
  }
  return status;
}

static cavum_status measure(double *value, const cavum_trial *trial, const double *values,
                            cavum_geometry_id figure, cavum_error *error) {
  cavum_cell cell;
  cavum_geometry *g = NULL;
  bool owned = false;
  cavum_status status = cavum_trial_make_cell(&cell, &owned, trial, values, error);
  if (status != CAVUM_OK)
    return cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, error);
  status = cavum_geometry_measure(&g, &cell, false, error);
  if (status == CAVUM_OK) *value = g->value[figure];
  cavum_geometry_destroy(&g);
  if (owned) cavum_cell_clear(&cell);
  return status;
}

// Part of one column of the root: half the second derivative along it.
static cavum_status bend_along(double *bend, const cavum_trial *trial, const int *of_tolerance,
                               const cavum_tolerances *tolerances, const double *root, int column,
                               cavum_geometry_id figure, cavum_error *error) {
  double value[3];
  for (int k = 0; k < 3; k++) {
    double values[CAVUM_TUNE_MOST];
    for (int j = 0; j < trial->num_dimensions; j++) values[j] = trial->dimensions[j].value;
    for (int t = 0; t < tolerances->count; t++) {
      if (of_tolerance[t] < 0) continue;
      values[of_tolerance[t]] += (k - 1) * STEP * root[t * tolerances->count + column] *
                                 cavum_tolerance_deviation(&tolerances->list[t]);
    }
    cavum_status status = measure(&value[k], trial, values, figure, error);
    if (status != CAVUM_OK) return status;
  }
  *bend += 0.5 * (value[0] - 2.0 * value[1] + value[2]) / (STEP * STEP);
  return CAVUM_OK;
}

static cavum_status bend_of_side(double *bend, const cavum_cell *cell,
                                 const cavum_tolerances *tolerances, const double *root,
                                 cavum_geometry_id figure, int side, cavum_error *error) {
  cavum_trial trial = {0};
  int of_tolerance[CAVUM_TOLERANCES_MOST];
  *bend = 0.0;
  cavum_status status = open_side(&trial, of_tolerance, cell, tolerances, side, error);
  for (int k = 0; k < tolerances->count && status == CAVUM_OK; k++) {
    status = bend_along(bend, &trial, of_tolerance, tolerances, root, k, figure, error);
  }
  cavum_trial_clear(&trial);
  return status;
}

// The smaller of two halves that agree: that of which less remains counts.
static cavum_status mean_of_smaller(double *shift, const cavum_cell *cell,
                                    const cavum_tolerances *tolerances, const double *draws,
                                    const double *root, cavum_geometry_id figure,
                                    cavum_error *error) {
  cavum_geometry *g = NULL;
  const double value[2] = {0.0, 0.0};
  double less[2 * CAVUM_TOLERANCES_MOST], along[2 * CAVUM_TOLERANCES_MOST], part[2], bend[2];
  int n = tolerances->count;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_geometry_measure(&g, cell, true, error));
  for (int side = LEFT; side <= RIGHT; side++) {
    for (int t = 0; t < n; t++) {
      CAVUM_TRY(find_change(&less[side * n + t], g, &tolerances->list[t], figure, side, error));
      less[side * n + t] *= -1.0;
    }
    CAVUM_TRY(bend_of_side(&bend[side], cell, tolerances, root, figure, side, error));
  }
  const cavum_mean_values halves = {.num_values = 2, .count = n, .value = value, .slope = less};
  double most = cavum_mean_of_largest(part, along, &halves, draws, CAVUM_MEAN_DRAWS);
  *shift = part[LEFT] * bend[LEFT] + part[RIGHT] * bend[RIGHT] - most;
done:
  cavum_geometry_destroy(&g);
  return status;
}

cavum_status cavum_shape_mean_find(double *shift, const cavum_cell *cell,
                                   const cavum_tolerances *tolerances, const double *draws,
                                   const double *root, cavum_geometry_id figure,
                                   cavum_error *error) {
  if (is_smaller_of_both(figure) && cavum_cell_is_mirror_symmetric(cell)) {
    return mean_of_smaller(shift, cell, tolerances, draws, root, figure, error);
  }
  return bend_of_side(shift, cell, tolerances, root, figure, WHOLE, error);
}
