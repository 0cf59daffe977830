// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape by the tolerances of dimensions: sqrt(s' C s) of their derivatives s.
#include "optimum/shape_spread.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "optimum/rates.h"

enum { LEFT, RIGHT };

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
  double width = t->kind == CAVUM_TOLERANCE_NORMAL ? t->width : t->width / sqrt(3.0);
  *change = part * slope * width * g->dimensions[k].unit_si;
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
done:
  cavum_geometry_destroy(&g);
  return status;
}
