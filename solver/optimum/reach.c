// SPDX-License-Identifier: GPL-3.0-or-later
// The least excess of a limit on the shape over the box of the bounds, by values alone. Figures of
// the shape have one extremum as a rule, often at a corner of the box; that of the worse half has
// kinks, which steps along single dimensions do not pass: others go along some and along all.
#include "optimum/reach.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "optimum/point.h"
#include "optimum/rows.h"

enum { NUM_POINTS = 256, NUM_BEST = 3, STEPS_BASE = 500, STEPS_EACH = 1000 };
// Of the ranges: the first step and the least.
static const double FIRST_STEP = 0.25, LEAST_STEP = 1e-6, LARGEST_STEP = 0.5;
static const double GROWN = 1.4, SHRUNK = 0.97;

/** A place with its excess. */
typedef struct tried {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  double excess, value;  // HUGE_VAL: no shape
} tried;

typedef struct looking {
  const cavum_goal *goal;
  int quantity;
  uint64_t state;  // of the random numbers, the same in every run
} looking;

// Uniform in 0..1 [Steele2014] splitmix.
static double next_random(looking *l) {
  uint64_t z = l->state += UINT64_C(0x9e3779b97f4a7c15);
  z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
  z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
  return (double)((z ^ (z >> 31)) >> 11) * 0x1p-53;
}

static cavum_status judge(tried *t, const looking *l, cavum_error *error) {
  double values[CAVUM_GOAL_MOST_QUANTITIES];
  const cavum_goal_quantity *q = &l->goal->quantities[l->quantity];
  cavum_status status = cavum_optimum_measure(values, l->goal, t->place, error);
  t->excess = t->value = HUGE_VAL;
  if (cavum_optimum_is_no_shape(status)) return CAVUM_OK;
  if (status != CAVUM_OK) return status;
  t->value = values[l->quantity];
  t->excess = cavum_max(cavum_rows_excess(q, t->value, -1.0), cavum_rows_excess(q, t->value, 1.0));
  return CAVUM_OK;
}

// The base cell moved into the bounds, then points and corners of the box in turn.
static void choose(tried *t, looking *l, int point) {
  const cavum_goal *goal = l->goal;
  for (int j = 0; j < goal->num_variables; j++) {
    double at = (goal->study->inputs[j].place.base - goal->low[j]) / (goal->high[j] - goal->low[j]);
    double anywhere = next_random(l);
    t->place[j] = point == 0       ? cavum_min(cavum_max(at, 0.0), 1.0)
                  : point % 2 == 0 ? anywhere
                  : anywhere < 0.5 ? 0.0
                                   : 1.0;
  }
}

// Keeps the best few, the best first.
static void keep(tried best[NUM_BEST], const tried *t) {
  tried moving = *t;
  for (int k = 0; k < NUM_BEST; k++) {
    if (!(moving.excess < best[k].excess)) continue;
    tried worse = best[k];
    best[k] = moving;
    moving = worse;
  }
}

// Along one dimension, along some, or along all.
static void step(tried *to, looking *l, double size, int kind) {
  int n = l->goal->num_variables, one = (int)(next_random(l) * n);
  for (int j = 0; j < n; j++) {
    double by = size * (2.0 * next_random(l) - 1.0);
    bool moves = kind == 0 ? j == one : kind == 2 || j == one || next_random(l) * n < 2.0;
    if (moves) to->place[j] = cavum_min(cavum_max(to->place[j] + by, 0.0), 1.0);
  }
}

static cavum_status walk(tried *at, looking *l, cavum_error *error) {
  double size = FIRST_STEP;
  int steps = STEPS_BASE + STEPS_EACH * l->goal->num_variables;
  for (int k = 0; k < steps && size > LEAST_STEP && at->excess > CAVUM_REACH_BROKEN; k++) {
    tried next = *at;
    step(&next, l, size, k % 3);
    cavum_status status = judge(&next, l, error);
    if (status != CAVUM_OK) return status;
    bool better = next.excess < at->excess;
    // What is as good is taken, too: of two halves that are equally bad one improves at a time.
    if (next.excess <= at->excess) *at = next;
    size = better ? cavum_min(GROWN * size, LARGEST_STEP) : SHRUNK * size;
  }
  return CAVUM_OK;
}

cavum_status cavum_reach_find(cavum_reach *reach, const cavum_goal *goal, int quantity,
                              cavum_error *error) {
  looking l = {.goal = goal, .quantity = quantity};
  tried best[NUM_BEST];
  for (int k = 0; k < NUM_BEST; k++) best[k] = (tried){.excess = HUGE_VAL, .value = HUGE_VAL};
  for (int point = 0; point < NUM_POINTS && best[0].excess > CAVUM_REACH_BROKEN; point++) {
    tried t = {0};
    choose(&t, &l, point);
    cavum_status status = judge(&t, &l, error);
    if (status != CAVUM_OK) return status;
    keep(best, &t);
  }
  tried nearest = best[0];
  for (int k = 0; k < NUM_BEST && nearest.excess > CAVUM_REACH_BROKEN; k++) {
    if (!isfinite(best[k].excess)) break;
    cavum_status status = walk(&best[k], &l, error);
    if (status != CAVUM_OK) return status;
    if (best[k].excess < nearest.excess) nearest = best[k];
  }
  *reach = (cavum_reach){
      .any = isfinite(nearest.excess), .excess = nearest.excess, .value = nearest.value};
  return CAVUM_OK;
}
