// SPDX-License-Identifier: GPL-3.0-or-later
// Figures against each other: limits go through their ranges, and each point starts from its
// neighbour [Haimes1971].
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "optimum/front_study.h"
#include "optimum/goal.h"
#include "optimum/rates.h"
#include "optimum/search.h"
#include "optimum/starts.h"

/** A front on its way. */
typedef struct walking {
  cavum_goal *goal;
  cavum_optimum_solving solving;
  int num_points;
  cavum_search *best;  // owned, shape [num_points]: here is NULL where nothing was found
  int *num_solves;     // owned, shape [num_points]
} walking;

// The limits of a point: the second figure goes through its range with each value of the first.
static void find_limits(double limit[CAVUM_FRONT_MOST_AXES], const cavum_goal *goal, int point) {
  int index[CAVUM_FRONT_MOST_AXES] = {point, 0};
  if (goal->num_axes == 2) {
    index[0] = point / goal->axes[1].num_points;
    index[1] = point % goal->axes[1].num_points;
  }
  for (int a = 0; a < goal->num_axes; a++) {
    const cavum_goal_axis *axis = &goal->axes[a];
    double part = (double)index[a] / (double)(axis->num_points - 1);
    limit[a] = part >= 1.0 ? axis->tight : axis->loose + part * (axis->tight - axis->loose);
  }
}

static void set_limits(cavum_goal *goal, int point) {
  double limit[CAVUM_FRONT_MOST_AXES];
  find_limits(limit, goal, point);
  for (int a = 0; a < goal->num_axes; a++) {
    cavum_requirement *what = &goal->quantities[goal->axes[a].quantity].what;
    if (goal->axes[a].smaller) what->most = limit[a];
    if (!goal->axes[a].smaller) what->least = limit[a];
  }
}

// What a search takes of another one is no longer needed once that has ended.
static void keep_if_better(walking *w, cavum_search *search, int point) {
  cavum_search *best = &w->best[point];
  search->from = NULL;
  if (cavum_search_is_better(search, best)) {
    cavum_search old = *best;
    *best = *search;
    *search = old;
  }
  cavum_search_clear(search);
}

static cavum_status go_on(walking *w, int point, int neighbour, cavum_error *error) {
  cavum_search search = {.solving = &w->solving, .most_solves = w->goal->most_solves};
  if (!w->best[neighbour].here) return CAVUM_OK;
  search.from = &w->best[neighbour];
  set_limits(w->goal, point);
  cavum_status status = cavum_search_run(&search, NULL, error);
  w->num_solves[point] += search.num_solves;
  if (status == CAVUM_OK) keep_if_better(w, &search, point);
  if (status != CAVUM_OK) cavum_search_clear(&search);
  return status;
}

// All starts of the goal: of the first point, and of those to which no neighbour leads.
static cavum_status start_anew(walking *w, int point, cavum_error *error) {
  cavum_starts starts = {.goal = w->goal};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  set_limits(w->goal, point);
  for (int i = 0; i < w->goal->num_starts; i++) {
    for (int k = 0; k < CAVUM_GOAL_TRIES && cavum_starts_next(place, &starts); k++) {
      cavum_search search = {.solving = &w->solving, .most_solves = w->goal->most_solves};
      cavum_optimum_solving_forget(&w->solving);
      cavum_status status = cavum_search_run(&search, place, error);
      bool no_shape =
          status != CAVUM_OK && search.num_steps == 0 && cavum_optimum_is_no_shape(status);
      w->num_solves[point] += search.num_solves;
      if (status == CAVUM_OK) keep_if_better(w, &search, point);
      if (status != CAVUM_OK) cavum_search_clear(&search);
      if (no_shape) continue;
      if (status != CAVUM_OK) return status;
      break;
    }
  }
  return CAVUM_OK;
}

static bool is_found(const walking *w, int point) {
  return w->best[point].here && w->best[point].end == CAVUM_OPTIMUM_CONVERGED;
}

// The neighbours that were before a point: with two limits also that of the row before.
static cavum_status walk(walking *w, int way, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int row = w->goal->num_axes == 2 ? w->goal->axes[1].num_points : w->num_points;
  for (int i = 0; i < w->num_points && status == CAVUM_OK; i++) {
    int point = way > 0 ? i : w->num_points - 1 - i;
    int in_row = point - way, in_column = point - way * row;
    bool has_row = in_row >= 0 && in_row < w->num_points && in_row / row == point / row;
    bool has_column = in_column >= 0 && in_column < w->num_points;
    if (way > 0 && i == 0) status = start_anew(w, point, error);
    if (has_row) status = go_on(w, point, in_row, error);
    // The other neighbour where there is none in the row, or where that did not lead to a shape.
    if (status == CAVUM_OK && has_column && (!has_row || !is_found(w, point))) {
      status = go_on(w, point, in_column, error);
    }
    if (status == CAVUM_OK && way < 0 && !is_found(w, point)) {
      status = start_anew(w, point, error);
    }
  }
  return status;
}

// ---- what it came to

static double value_of(const walking *w, int point, int quantity) {
  return w->best[point].here->values[quantity].figure / w->goal->quantities[quantity].what.unit_si;
}

static cavum_status take_point(cavum_front_point *p, const walking *w, int point,
                               cavum_error *error) {
  const cavum_goal *goal = w->goal;
  const cavum_search *best = &w->best[point];
  double values[CAVUM_STUDY_MOST_INPUTS];
  *p = (cavum_front_point){.kind = CAVUM_FRONT_GAP,
                           .end = best->here ? best->end : CAVUM_OPTIMUM_NO_SHAPE,
                           .residual = best->here ? best->residual : NAN,
                           .violation = best->here ? best->violation : NAN,
                           .num_solves = w->num_solves[point]};
  find_limits(p->limit, goal, point);
  p->inputs = cavum_alloc(goal->study->num_inputs, sizeof *p->inputs);
  if (!p->inputs) return cavum_fail_memory(error);
  for (int a = 0; a <= CAVUM_FRONT_MOST_AXES; a++) p->value[a] = p->uncertainty[a] = NAN;
  for (int i = 0; i < goal->study->num_inputs; i++) p->inputs[i] = NAN;
  if (!is_found(w, point)) return CAVUM_OK;
  cavum_optimum_inputs(values, goal, best->here->place);
  memcpy(p->inputs, values, (size_t)goal->study->num_inputs * sizeof *values);
  p->kind = CAVUM_FRONT_POINT;
  for (int a = 0; a <= goal->num_axes; a++) {
    int quantity = a == 0 ? 0 : goal->axes[a - 1].quantity;
    const cavum_goal_quantity *q = &goal->quantities[quantity];
    p->value[a] = value_of(w, point, quantity);
    p->uncertainty[a] = best->here->values[quantity].uncertainty / q->what.unit_si;
    if (a == 0) continue;
    double sign = goal->axes[a - 1].smaller ? 1.0 : -1.0;
    double limit = p->limit[a - 1] * q->what.unit_si;
    double multiplier = best->limit_multiplier[quantity][sign > 0.0];
    p->multiplier[a - 1] = multiplier * fabs(cavum_rows_scale(q, limit, sign)) * q->what.unit_si;
  }
  return CAVUM_OK;
}

// Whether a point is worse than another in its objective, and better in no figure, by more than
// they are known to.
static bool is_dominated(const cavum_front *front, const cavum_front_point *p,
                         const cavum_front_point *by) {
  for (int a = 0; a <= front->num_axes; a++) {
    bool smaller = a == 0 ? front->objective.smaller : front->axes[a - 1].smaller;
    double worse = smaller ? p->value[a] - by->value[a] : by->value[a] - p->value[a];
    double known = p->uncertainty[a] + by->uncertainty[a];
    if (a == 0 ? worse <= known : worse < -known) return false;
  }
  return true;
}

// Whether a point has a limit that is not active, and the shape of another one is as good within
// tighter limits: it is the same shape.
static bool is_repeated(const cavum_front *front, const cavum_front_point *p,
                        const cavum_front_point *by) {
  bool active = true;
  for (int a = 0; a < front->num_axes; a++) {
    double tighter = p->limit[a] - by->limit[a];
    if (front->axes[a].smaller ? tighter < 0.0 : tighter > 0.0) return false;
    active = active && p->multiplier[a] > 0.0;
  }
  double worse = front->objective.smaller ? by->value[0] - p->value[0] : p->value[0] - by->value[0];
  return !active && worse <= p->uncertainty[0] + by->uncertainty[0];
}

static void mark(cavum_front *front) {
  for (int i = 0; i < front->num_points; i++) {
    cavum_front_point *p = &front->points[i];
    for (int k = 0; k < front->num_points && p->kind == CAVUM_FRONT_POINT; k++) {
      const cavum_front_point *by = &front->points[k];
      if (k == i || by->kind == CAVUM_FRONT_GAP) continue;
      if (is_dominated(front, p, by)) p->kind = CAVUM_FRONT_DOMINATED;
      if (is_repeated(front, p, by)) p->kind = CAVUM_FRONT_BEYOND;
    }
  }
}

static cavum_status take(cavum_front *front, const walking *w, cavum_error *error) {
  const cavum_goal *goal = w->goal;
  int found = 0;
  cavum_status status = CAVUM_OK;
  front->num_axes = goal->num_axes;
  front->num_inputs = goal->study->num_inputs;
  front->mode = goal->study->mode;
  front->num_solves = w->solving.num_solves;
  front->objective = (cavum_front_axis){.what = goal->quantities[0].what,
                                        .smaller = goal->quantities[0].weight > 0.0,
                                        .num_limits = 1};
  for (int a = 0; a < goal->num_axes; a++) {
    front->axes[a] = (cavum_front_axis){.what = goal->quantities[goal->axes[a].quantity].what,
                                        .smaller = goal->axes[a].smaller,
                                        .num_limits = goal->axes[a].num_points};
  }
  front->inputs = cavum_alloc(front->num_inputs, sizeof *front->inputs);
  front->points = cavum_alloc(w->num_points, sizeof *front->points);
  if (!front->inputs || !front->points) return cavum_fail_memory(error);
  for (int i = 0; i < front->num_inputs; i++) {
    snprintf(front->inputs[i], sizeof front->inputs[i], "%s", goal->study->inputs[i].place.name);
  }
  for (; front->num_points < w->num_points && status == CAVUM_OK; front->num_points++) {
    status = take_point(&front->points[front->num_points], w, front->num_points, error);
    found += is_found(w, front->num_points);
  }
  if (status != CAVUM_OK) return status;
  if (found == 0) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "no point of the front: of %d none met the first-order conditions within the "
                      "limits",
                      w->num_points);
  }
  mark(front);
  return cavum_front_write_study(&front->study_text, front, goal, error);
}

static cavum_status run(cavum_front **front, walking *w, const cavum_solve_options *options,
                        cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_front *made = cavum_alloc(1, sizeof *made);
  w->num_points = 1;
  for (int a = 0; a < w->goal->num_axes; a++) w->num_points *= w->goal->axes[a].num_points;
  w->best = cavum_alloc(w->num_points, sizeof *w->best);
  w->num_solves = cavum_alloc(w->num_points, sizeof *w->num_solves);
  if (!made || !w->best || !w->num_solves) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_optimum_solving_open(&w->solving, w->goal, options, error));
  CAVUM_TRY(walk(w, 1, error));
  CAVUM_TRY(walk(w, -1, error));
  CAVUM_TRY(take(made, w, error));
  *front = made;
  made = NULL;
done:
  cavum_front_destroy(&made);
  return status;
}

cavum_status cavum_optimise_front(cavum_front **front, cavum_goal *goal,
                                  const cavum_solve_options *options, cavum_error *error) {
  if (!front || !goal) return cavum_fail_null(error, __func__);
  if (goal->num_axes == 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "the goal has no front");
  }
  walking w = {.goal = goal};
  cavum_status status = run(front, &w, options, error);
  for (int i = 0; w.best && i < w.num_points; i++) cavum_search_clear(&w.best[i]);
  free(w.best);
  free(w.num_solves);
  cavum_optimum_solving_clear(&w.solving);
  return status;
}

bool cavum_goal_is_front(const cavum_goal *goal) { return goal && goal->num_axes > 0; }

const char *cavum_front_kind_word(cavum_front_kind kind) {
  switch (kind) {
    case CAVUM_FRONT_POINT:
      return "point";
    case CAVUM_FRONT_BEYOND:
      return "beyond";
    case CAVUM_FRONT_DOMINATED:
      return "dominated";
    case CAVUM_FRONT_GAP:
      break;
  }
  return "gap";
}

void cavum_front_destroy(cavum_front **front) {
  if (!front || !*front) return;
  cavum_front *old = *front;
  for (int i = 0; old->points && i < old->num_points; i++) free(old->points[i].inputs);
  free(old->points);
  free(old->inputs);
  free(old->study_text);
  free(old);
  *front = NULL;
}
