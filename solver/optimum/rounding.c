// SPDX-License-Identifier: GPL-3.0-or-later
// Which way to round each dimension: the subproblem at the best point says it of all ways at once.
// Ways are points of the lattice of the steps: the corners about the best point, and beside the
// best of these the next points of each dimension, which count where limits leave no corner. Where
// none of them keeps the limits, the best is the middle of new ways, by what its own solve says of
// limits and slopes there. At last the dimension with the coarsest step is put on its two next
// values and the others are searched anew: a coarse step moves the best shape of all others.
#include "optimum/rounding.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"

// Ways that are tried where one keeps the limits, and where none did so far; dimensions that are
// rounded either way, others to the nearest; how many of the best have neighbours that are ways as
// well, and how often those have such again.
// `WAY_SOLVES`: of a way with one dimension left, which holds the frequency; some three are needed
// where the limits are kept. `MIDDLES`: ways whose neighbours are tried.
enum {
  TRIES = 6,
  MOST_TRIES = 20,
  WAY_SOLVES = 6,
  MIDDLES = 12,
  MOST_EITHER_WAY = 8,
  CORNERS = 16,
  RINGS = 3
};
static const double PENALTY = 100.0, CURVATURE = 0.1, ON_LATTICE = 1e-9;

/** A way to round. */
typedef struct way {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  double value;  // of the subproblem
} way;

/** What is rounded: where a search without steps ended, or one with some dimensions on theirs. */
typedef struct rounding {
  const cavum_search *best;
  const bool *settled;  // shape [num_variables]: dimensions that are on their steps already
} rounding;

static bool is_open(const rounding *r, int j) {
  return r->best->solving->goal->step[j] > 0.0 && !r->settled[j];
}

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
  double parts = (goal->low[j] + place * range) / step, whole = round(parts);
  // A place that is on the lattice has one way.
  if (fabs(parts - whole) <= ON_LATTICE * cavum_max(1.0, fabs(whole))) parts = whole;
  double value = (up ? ceil(parts) : floor(parts)) * step;
  if (value > goal->high[j] * (1.0 + 1e-15)) value = floor(goal->high[j] / step) * step;
  if (value < goal->low[j]) value = ceil(goal->low[j] / step) * step;
  return cavum_min(cavum_max((value - goal->low[j]) / range, 0.0), 1.0);
}

static void make_way(way *w, const rounding *r, unsigned bits) {
  const cavum_goal *goal = r->best->solving->goal;
  const double *place = r->best->here->place;
  int either = 0;
  memcpy(w->place, place, (size_t)goal->num_variables * sizeof *place);
  for (int j = 0; j < goal->num_variables; j++) {
    if (!is_open(r, j)) continue;
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
static cavum_status list_neighbours(way *ways, int *count, cavum_model *model, const rounding *r,
                                    cavum_error *error) {
  const cavum_goal *goal = r->best->solving->goal;
  int corners = *count < CORNERS ? *count : CORNERS;
  for (int i = 0; i < corners; i++) {
    for (int j = 0; j < goal->num_variables; j++) {
      if (!is_open(r, j)) continue;
      for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
        way *w = &ways[*count];
        if (!step_aside(w, &ways[i], goal, j, sign) || is_listed(ways, *count, w, goal)) continue;
        cavum_status status = weigh(w, model, goal, r->best->here->place, error);
        if (status != CAVUM_OK) return status;
        ++*count;
      }
    }
  }
  return CAVUM_OK;
}

// `count`: corners; then with the neighbours of the best of these, in the order of what they cost.
static cavum_status list_ways(way *ways, int *count, const rounding *r, cavum_error *error) {
  const cavum_search *best = r->best;
  const cavum_goal *goal = best->solving->goal;
  cavum_status status = CAVUM_OK;
  cavum_model *model = cavum_alloc(1, sizeof *model);
  cavum_rows *rows = cavum_alloc(1, sizeof *rows);
  if (!model || !rows) CAVUM_TRY(cavum_fail_memory(error));
  cavum_rows_fill(model, rows, goal, best->here);
  model->penalty = PENALTY;
  for (int j = 0; j < goal->num_variables; j++) model->curvature[j][j] = CURVATURE;
  int corners = *count;
  *count = 0;
  for (int i = 0; i < corners; i++) {
    way *w = &ways[*count];
    make_way(w, r, (unsigned)i);
    if (is_listed(ways, *count, w, goal)) continue;
    CAVUM_TRY(weigh(w, model, goal, best->here->place, error));
    ++*count;
  }
  qsort(ways, (size_t)*count, sizeof *ways, compare);
  for (int ring = 0; ring < RINGS; ring++) {
    CAVUM_TRY(list_neighbours(ways, count, model, r, error));
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

// The better of both stays in `kept`; the other one is released, and so is a search that was
// stopped or failed.
static void keep_better(cavum_search *kept, cavum_search *search, cavum_status status) {
  if (status == CAVUM_OK && search->here && is_better(search, kept)) {
    cavum_search old = *kept;
    *kept = *search;
    *search = old;
  }
  cavum_search_clear(search);
  kept->fixed = NULL;
}

// A shape that cannot be is a way that leads nowhere.
static cavum_status run_search(cavum_search *search, const double *place, cavum_error *error) {
  cavum_error what = {0};
  cavum_status status = cavum_search_run(search, place, &what);
  if (cavum_optimum_is_no_shape(status)) return CAVUM_OK;
  if (status != CAVUM_OK && error) *error = what;
  return status;
}

// Searches what has no steps with all that has them where a way puts it.
static cavum_status run_way(cavum_search *search, const way *w, const cavum_search *best,
                            cavum_error *error) {
  const cavum_goal *goal = best->solving->goal;
  bool fixed[CAVUM_GOAL_MOST_VARIABLES];
  int num_free = 0;
  for (int j = 0; j < goal->num_variables; j++) {
    fixed[j] = goal->step[j] > 0.0;
    num_free += !fixed[j];
  }
  int most = WAY_SOLVES * (num_free > 1 ? num_free : 1);
  *search = (cavum_search){.solving = best->solving,
                           .most_solves = most < best->most_solves ? most : best->most_solves,
                           .fixed = fixed};
  cavum_status status = run_search(search, w->place, error);
  search->fixed = NULL;
  return status;
}

static way *allocate_ways(int *corners, const rounding *r) {
  const cavum_goal *goal = r->best->solving->goal;
  int either = 0;
  for (int j = 0; j < goal->num_variables; j++) either += is_open(r, j) && either < MOST_EITHER_WAY;
  *corners = 1 << either;
  return cavum_alloc(*corners + RINGS * 2 * CORNERS * goal->num_variables + 1, sizeof(way));
}

// Tries ways about a point, those of all open dimensions at once.
static cavum_status try_ways(cavum_search *rounded, const rounding *r, int most_tries,
                             cavum_error *error) {
  int count = 0;
  way *ways = allocate_ways(&count, r);
  if (!ways) return cavum_fail_memory(error);
  cavum_status status = list_ways(ways, &count, r, error);
  for (int i = 0; i < count && i < (keeps_limits(rounded) ? TRIES : most_tries); i++) {
    if (status != CAVUM_OK) break;
    cavum_search search;
    status = run_way(&search, &ways[i], r->best, error);
    keep_better(rounded, &search, status);
  }
  free(ways);
  return status;
}

/** Ways that were tried, in turn. */
typedef struct tried {
  way ways[MIDDLES * TRIES + 1];  // and where it began
  int count;
} tried;

// One more middle: `moved` where one of the next ways about the best so far is better.
static cavum_status move_middle(bool *moved, cavum_search *rounded, tried *before,
                                cavum_error *error) {
  const bool none[CAVUM_GOAL_MOST_VARIABLES] = {false};
  const rounding about = {rounded, none};
  const cavum_goal *goal = rounded->solving->goal;
  int count = 0;
  way *ways = allocate_ways(&count, &about);
  if (!ways) return cavum_fail_memory(error);
  cavum_status status = list_ways(ways, &count, &about, error);
  *moved = false;
  for (int i = 0, tries = 0; i < count && tries < TRIES && !*moved; i++) {
    if (status != CAVUM_OK) break;
    if (is_listed(before->ways, before->count, &ways[i], goal)) continue;
    before->ways[before->count++] = ways[i];
    tries++;
    cavum_search search;
    status = run_way(&search, &ways[i], rounded, error);
    *moved = status == CAVUM_OK && search.here && is_better(&search, rounded);
    keep_better(rounded, &search, status);
  }
  free(ways);
  return status;
}

// From the best way that was tried, which breaks a limit, to better ones.
static cavum_status descend(cavum_search *rounded, cavum_error *error) {
  if (!rounded->here) return CAVUM_OK;
  tried *before = cavum_alloc(1, sizeof *before);
  if (!before) return cavum_fail_memory(error);
  cavum_status status = CAVUM_OK;
  bool moved = true;
  memcpy(before->ways[before->count++].place, rounded->here->place, sizeof before->ways[0].place);
  for (int k = 0; k < MIDDLES && moved && !keeps_limits(rounded) && status == CAVUM_OK; k++) {
    status = move_middle(&moved, rounded, before, error);
  }
  free(before);
  return status;
}

// The open dimension whose step is the largest part of its range; -1: none is open.
static int find_coarsest(const rounding *r) {
  const cavum_goal *goal = r->best->solving->goal;
  int coarsest = -1;
  double most = 0.0;
  for (int j = 0; j < goal->num_variables; j++) {
    double part = goal->step[j] / (goal->high[j] - goal->low[j]);
    if (!is_open(r, j) || part <= most) continue;
    most = part;
    coarsest = j;
  }
  return coarsest;
}

// Puts a dimension on a multiple of its step, searches the others anew, and rounds what comes out.
static cavum_status round_beside(cavum_search *rounded, const cavum_search *best, int j, bool up,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool settled[CAVUM_GOAL_MOST_VARIABLES] = {false};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  cavum_search beside = {
      .solving = best->solving, .most_solves = best->most_solves, .fixed = settled};
  cavum_search made = {0};
  settled[j] = true;
  memcpy(place, best->here->place, sizeof place);
  place[j] = round_place(best->solving->goal, j, place[j], up);
  CAVUM_TRY(run_search(&beside, place, error));
  if (!beside.here) goto done;
  const rounding r = {&beside, settled};
  CAVUM_TRY(try_ways(&made, &r, TRIES, error));
  if (!keeps_limits(&made)) CAVUM_TRY(descend(&made, error));
done:
  keep_better(rounded, &made, CAVUM_OK);
  cavum_search_clear(&beside);
  return status;
}

cavum_status cavum_rounding_search(cavum_search *rounded, const cavum_search *best,
                                   cavum_error *error) {
  const bool none[CAVUM_GOAL_MOST_VARIABLES] = {false};
  const rounding all = {best, none};
  cavum_status status = try_ways(rounded, &all, MOST_TRIES, error);
  if (status == CAVUM_OK && !keeps_limits(rounded)) status = descend(rounded, error);
  if (status != CAVUM_OK || keeps_limits(rounded)) return status;
  int coarsest = find_coarsest(&all);
  for (int up = 0; up <= 1 && status == CAVUM_OK; up++) {
    status = round_beside(rounded, best, coarsest, up != 0, error);
  }
  return status;
}
