// SPDX-License-Identifier: GPL-3.0-or-later
// Which way to round each dimension: the subproblem at the best point says it of all ways at once.
// Ways are points of the lattice of the steps: the corners about the best point, and beside the
// best of these the next points of each dimension, which count where limits leave no corner.
#include "optimum/rounding.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"

// Ways that are tried where one keeps the limits, and where none did so far; dimensions that are
// rounded either way, others to the nearest; how many of the best have neighbours that are ways as
// well, and how often those have such again.
enum { TRIES = 6, MOST_TRIES = 40, MOST_EITHER_WAY = 8, CORNERS = 16, RINGS = 3 };
static const double PENALTY = 100.0, CURVATURE = 0.1;

/** A way to round. */
typedef struct way {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  double value;  // of the subproblem
} way;

bool cavum_rounding_is_wanted(const cavum_goal *goal) {
  for (int j = 0; j < goal->num_variables; j++) {
    if (goal->step[j] > 0.0) return true;
  }
  return false;
}

double cavum_rounding_value(double value, double step) {
  char text[32];
  snprintf(text, sizeof text, "%.12g", round(value / step) * step);
  return strtod(text, NULL);
}

// The multiple of the step below a place, or above; within the bounds.
static double round_place(const cavum_goal *goal, int j, double place, bool up) {
  double range = goal->high[j] - goal->low[j], step = goal->step[j];
  double parts = (goal->low[j] + place * range) / step;
  double value = (up ? ceil(parts) : floor(parts)) * step;
  if (value > goal->high[j] * (1.0 + 1e-15)) value = floor(goal->high[j] / step) * step;
  if (value < goal->low[j]) value = ceil(goal->low[j] / step) * step;
  return cavum_min(cavum_max((value - goal->low[j]) / range, 0.0), 1.0);
}

static void make_way(way *w, const cavum_goal *goal, const double *place, unsigned bits) {
  int either = 0;
  memcpy(w->place, place, (size_t)goal->num_variables * sizeof *place);
  for (int j = 0; j < goal->num_variables; j++) {
    if (goal->step[j] == 0.0) continue;
    double up = round_place(goal, j, place[j], true), down = round_place(goal, j, place[j], false);
    bool nearer = up - place[j] < place[j] - down;
    bool upward = either < MOST_EITHER_WAY ? bits >> either & 1U : nearer;
    w->place[j] = upward ? up : down;
    either++;
  }
}

static int compare(const void *a, const void *b) {
  double x = ((const way *)a)->value, y = ((const way *)b)->value;
  return (x > y) - (x < y);
}

// The least that the subproblem comes to when the rounded dimensions are where a way puts them.
static cavum_status weigh(way *w, cavum_model *model, const cavum_goal *goal, const double *place,
                          cavum_error *error) {
  cavum_model_solution found;
  for (int j = 0; j < goal->num_variables; j++) {
    bool rounded = goal->step[j] > 0.0;
    double step = w->place[j] - place[j];
    model->low[j] = rounded ? step : -place[j];
    model->high[j] = rounded ? step : 1.0 - place[j];
  }
  cavum_status status = cavum_model_solve(&found, model, error);
  if (status == CAVUM_OK) w->value = found.value;
  return status;
}

// The way beside another one, a step up or down in one dimension; false: it is beyond a bound.
static bool step_aside(way *w, const way *from, const cavum_goal *goal, int j, double sign) {
  double range = goal->high[j] - goal->low[j], step = goal->step[j];
  double value = cavum_rounding_value(goal->low[j] + from->place[j] * range + sign * step, step);
  double place = (value - goal->low[j]) / range;
  if (place < 0.0 || place > 1.0) return false;
  *w = *from;
  w->place[j] = place;
  return true;
}

static bool is_listed(const way *ways, int count, const way *w, const cavum_goal *goal) {
  static const double SAME = 1e-9;
  for (int i = 0; i < count; i++) {
    bool same = true;
    for (int j = 0; j < goal->num_variables && same; j++) {
      same = goal->step[j] == 0.0 || fabs(ways[i].place[j] - w->place[j]) < SAME;
    }
    if (same) return true;
  }
  return false;
}

// Adds the neighbours of the best ways so far.
static cavum_status list_neighbours(way *ways, int *count, cavum_model *model,
                                    const cavum_search *best, cavum_error *error) {
  const cavum_goal *goal = best->solving->goal;
  int corners = *count < CORNERS ? *count : CORNERS;
  for (int i = 0; i < corners; i++) {
    for (int j = 0; j < goal->num_variables; j++) {
      if (goal->step[j] == 0.0) continue;
      for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
        way *w = &ways[*count];
        if (!step_aside(w, &ways[i], goal, j, sign) || is_listed(ways, *count, w, goal)) continue;
        cavum_status status = weigh(w, model, goal, best->here->place, error);
        if (status != CAVUM_OK) return status;
        ++*count;
      }
    }
  }
  return CAVUM_OK;
}

// `count`: corners; then with the neighbours of the best of these, in the order of what they cost.
static cavum_status list_ways(way *ways, int *count, const cavum_search *best, cavum_error *error) {
  const cavum_goal *goal = best->solving->goal;
  cavum_status status = CAVUM_OK;
  cavum_model *model = cavum_alloc(1, sizeof *model);
  cavum_rows *rows = cavum_alloc(1, sizeof *rows);
  if (!model || !rows) CAVUM_TRY(cavum_fail_memory(error));
  cavum_rows_fill(model, rows, goal, best->here);
  model->penalty = PENALTY;
  for (int j = 0; j < goal->num_variables; j++) model->curvature[j][j] = CURVATURE;
  for (int i = 0; i < *count; i++) {
    make_way(&ways[i], goal, best->here->place, (unsigned)i);
    CAVUM_TRY(weigh(&ways[i], model, goal, best->here->place, error));
  }
  qsort(ways, (size_t)*count, sizeof *ways, compare);
  for (int ring = 0; ring < RINGS; ring++) {
    CAVUM_TRY(list_neighbours(ways, count, model, best, error));
    qsort(ways, (size_t)*count, sizeof *ways, compare);
  }
done:
  free(model);
  free(rows);
  return status;
}

static bool is_better(const cavum_search *a, const cavum_search *b) {
  if (!b->here) return true;
  bool met = a->end == CAVUM_OPTIMUM_CONVERGED, other = b->end == CAVUM_OPTIMUM_CONVERGED;
  if (met != other) return met;
  return met ? a->objective < b->objective : a->violation < b->violation;
}

static bool keeps_limits(const cavum_search *rounded) {
  return rounded->here && rounded->end == CAVUM_OPTIMUM_CONVERGED;
}

cavum_status cavum_rounding_search(cavum_search *rounded, const cavum_search *best,
                                   cavum_error *error) {
  const cavum_goal *goal = best->solving->goal;
  cavum_status status = CAVUM_OK;
  bool fixed[CAVUM_GOAL_MOST_VARIABLES];
  int either = 0;
  for (int j = 0; j < goal->num_variables; j++) {
    fixed[j] = goal->step[j] > 0.0;
    either += fixed[j] && either < MOST_EITHER_WAY;
  }
  int count = 1 << either;
  way *ways = cavum_alloc(count + RINGS * 2 * CORNERS * goal->num_variables + 1, sizeof *ways);
  if (!ways) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(list_ways(ways, &count, best, error));
  for (int i = 0; i < count && i < (keeps_limits(rounded) ? TRIES : MOST_TRIES); i++) {
    cavum_search search = {
        .solving = best->solving, .most_solves = best->most_solves, .fixed = fixed};
    cavum_error what = {0};
    status = cavum_search_run(&search, ways[i].place, &what);
    if (status == CAVUM_OK && is_better(&search, rounded)) {
      cavum_search old = *rounded;
      *rounded = search;
      search = old;
    }
    cavum_search_clear(&search);
    if (cavum_optimum_is_no_shape(status)) status = CAVUM_OK;
    if (status != CAVUM_OK && error) *error = what;
    if (status != CAVUM_OK) break;
  }
  rounded->fixed = NULL;
done:
  free(ways);
  return status;
}
