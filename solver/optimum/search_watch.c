// SPDX-License-Identifier: GPL-3.0-or-later
#include "optimum/search_watch.h"

#include <math.h>

#include "base/base.h"
#include "optimum/rows.h"

void cavum_search_watch_open(cavum_search_watch *watch, cavum_goal *goal) {
  if (!goal->watcher) return;
  const cavum_goal_quantity *first = &goal->quantities[0];
  bool one = goal->num_terms == 1 && fabs(first->weight) == 1.0;
  *watch = (cavum_search_watch){.teller = pthread_self(),
                                .begin_s = cavum_seconds(),
                                .watcher = goal->watcher,
                                .watcher_data = goal->watcher_data,
                                .now = {.point = -1, .what = one ? &first->what : NULL}};
  pthread_mutex_init(&watch->mutex, NULL);
  goal->watch = watch;
}

void cavum_search_watch_close(cavum_search_watch *watch, cavum_goal *goal) {
  if (goal->watch != watch) return;
  goal->watch = NULL;
  pthread_mutex_destroy(&watch->mutex);
}

static void begin(cavum_search_watch *watch) {
  watch->now.has_best = watch->now.within_limits = false;
  watch->now.violation = watch->now.objective = watch->now.value = NAN;
}

void cavum_search_watch_stage(const cavum_goal *goal, cavum_optimum_stage stage, int num_wanted) {
  cavum_search_watch *watch = goal->watch;
  if (!watch) return;
  pthread_mutex_lock(&watch->mutex);
  watch->now.stage = stage;
  watch->now.num_wanted = num_wanted;
  watch->now.num_done = 0;
  begin(watch);
  pthread_mutex_unlock(&watch->mutex);
}

void cavum_search_watch_point(const cavum_goal *goal, int point, int num_found) {
  cavum_search_watch *watch = goal->watch;
  if (!watch) return;
  pthread_mutex_lock(&watch->mutex);
  watch->now.num_done = num_found;
  watch->now.point = point;
  begin(watch);
  pthread_mutex_unlock(&watch->mutex);
}

void cavum_search_watch_start_done(const cavum_goal *goal) {
  cavum_search_watch *watch = goal->watch;
  if (!watch) return;
  pthread_mutex_lock(&watch->mutex);
  watch->now.num_done++;
  pthread_mutex_unlock(&watch->mutex);
}

// The watcher is called without the lock: it may take its time.
static void tell(cavum_search_watch *watch) {
  if (!pthread_equal(pthread_self(), watch->teller)) return;
  pthread_mutex_lock(&watch->mutex);
  cavum_optimum_progress now = watch->now;
  pthread_mutex_unlock(&watch->mutex);
  now.seconds = cavum_seconds() - watch->begin_s;
  watch->watcher(&now, watch->watcher_data);
}

// A shape within the limits is better than one beyond them, then the one of the better objective;
// of those beyond the one that is nearest.
static bool is_better(const cavum_optimum_progress *best, bool within, double objective,
                      double violation) {
  if (!best->has_best) return true;
  if (within != best->within_limits) return within;
  return within ? objective < best->objective : violation < best->violation;
}

void cavum_search_watch_solved(cavum_optimum_solving *solving, const cavum_optimum_point *shape) {
  const cavum_goal *goal = solving->goal;
  cavum_search_watch *watch = goal->watch;
  if (!watch) return;
  double objective = cavum_rows_objective(goal, shape),
         violation = cavum_rows_violation(goal, shape);
  bool within = cavum_rows_violation_in_accuracies(goal, shape) <= 1.0;
  pthread_mutex_lock(&watch->mutex);
  cavum_optimum_progress *now = &watch->now;
  // A search that goes on from another one begins with its shape, which is not solved again.
  bool is_new = solving->num_solves != solving->num_told;
  now->num_solves += solving->num_solves - solving->num_told;
  solving->num_told = solving->num_solves;
  if (is_better(now, within, objective, violation)) {
    now->has_best = true;
    now->within_limits = within;
    now->objective = objective;
    now->violation = violation;
    now->value = now->what ? exp(objective / goal->quantities[0].weight) : NAN;
  }
  pthread_mutex_unlock(&watch->mutex);
  if (is_new) tell(watch);
}

void cavum_search_watch_waits(const cavum_goal *goal) {
  if (goal->watch) tell(goal->watch);
}
