// SPDX-License-Identifier: GPL-3.0-or-later
// Figures against each other: from the points of a walk to a front.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "optimum/front_study.h"
#include "optimum/front_walk.h"
#include "optimum/outcome.h"
#include "optimum/rates.h"
#include "optimum/search_watch.h"
#include "scan/study.h"

// ---- what it came to

// What a solve of the cell by itself says, which its row, its picture and its cell file have as
// well: the search knows peaks by its own way along the wall.
static cavum_status solve_alone(cavum_figure *figures, const cavum_front_walk *w,
                                const double *values, cavum_error *error) {
  const cavum_study *study = w->goal->study;
  cavum_cell cell;
  bool owned = false;
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  options.coupling = study->coupling;
  options.coupling_of_inner_cell = study->coupling_of_inner_cell;
  cavum_status status = cavum_study_apply(&cell, &owned, study, values, error);
  if (status != CAVUM_OK) return status;
  status = cavum_solve(&result, &cell, &options, error);
  if (status == CAVUM_ERR_NOT_CONVERGED && result) status = CAVUM_OK;
  for (int a = 0; a <= w->goal->num_axes && status == CAVUM_OK; a++) {
    const cavum_requirement *what =
        &w->goal->quantities[a == 0 ? 0 : w->goal->axes[a - 1].quantity].what;
    figures[a] = cavum_requirement_figure(what, &cell, result, study->mode);
  }
  cavum_result_destroy(&result);
  if (owned) cavum_cell_clear(&cell);
  return status;
}

// What one unit more room brings; 0: the limit is not active.
static double multiplier_of(const cavum_goal_quantity *q, double value, double sign,
                            const double of_limits[2], double tolerance) {
  double limit = cavum_rows_limit(q, sign), scale = fabs(cavum_rows_scale(q, limit, sign));
  double multiplier = of_limits[sign > 0.0], least = sign < 0.0 ? multiplier : 0.0;
  int side =
      cavum_outcome_side(least, multiplier - least, sign * (limit - value) * scale, tolerance);
  return side == 0 ? 0.0 : multiplier * scale * q->what.unit_si;
}

static cavum_status take_point(cavum_front_point *p, const cavum_front_walk *w, int point,
                               cavum_error *error) {
  const cavum_goal *goal = w->goal;
  const cavum_search *best = &w->best[point];
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_optimum_end none = w->stopped ? CAVUM_OPTIMUM_STOPPED : CAVUM_OPTIMUM_NO_SHAPE;
  *p = (cavum_front_point){.kind = CAVUM_FRONT_GAP,
                           .end = best->here ? best->end : none,
                           .residual = best->here ? best->residual : NAN,
                           .violation = best->here ? best->violation : NAN,
                           .num_solves = w->num_solves[point],
                           .at_seam = cavum_front_walk_is_at_seam(w, point)};
  cavum_front_find_limits(p->limit, goal, point);
  cavum_front_set_limits(w->goal, point);
  p->inputs = cavum_alloc(goal->study->num_inputs, sizeof *p->inputs);
  if (!p->inputs) return cavum_fail_memory(error);
  for (int a = 0; a <= CAVUM_FRONT_MOST_AXES; a++) p->value[a] = p->uncertainty[a] = NAN;
  for (int i = 0; i < goal->study->num_inputs; i++) p->inputs[i] = NAN;
  if (!best->here || !cavum_front_walk_found(w, point)) return CAVUM_OK;
  cavum_optimum_inputs(values, goal, best->here->place);
  memcpy(p->inputs, values, (size_t)goal->study->num_inputs * sizeof *values);
  p->kind = CAVUM_FRONT_POINT;
  cavum_figure figures[CAVUM_FRONT_MOST_AXES + 1] = {{.state = CAVUM_FIGURE_ABSENT}};
  cavum_status status = solve_alone(figures, w, values, error);
  if (status != CAVUM_OK) return status;
  for (int a = 0; a <= goal->num_axes; a++) {
    int quantity = a == 0 ? 0 : goal->axes[a - 1].quantity;
    const cavum_goal_quantity *q = &goal->quantities[quantity];
    p->value[a] = figures[a].value / q->what.unit_si;
    p->uncertainty[a] = figures[a].uncertainty / q->what.unit_si;
    if (a == 0) continue;
    p->multiplier[a - 1] =
        multiplier_of(q, figures[a].value, goal->axes[a - 1].smaller ? 1.0 : -1.0,
                      best->limit_multiplier[quantity], goal->tolerance);
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

// Whether a point has a limit that is not active.
static bool has_room(const cavum_front *front, const cavum_front_point *p) {
  for (int a = 0; a < front->num_axes; a++) {
    if (!(p->multiplier[a] > 0.0)) return true;
  }
  return false;
}

// Whether the shape of another point is as good within tighter limits.
static bool is_repeated(const cavum_front *front, const cavum_front_point *p,
                        const cavum_front_point *by) {
  for (int a = 0; a < front->num_axes; a++) {
    double tighter = p->limit[a] - by->limit[a];
    if (front->axes[a].smaller ? tighter < 0.0 : tighter > 0.0) return false;
  }
  double worse = front->objective.smaller ? by->value[0] - p->value[0] : p->value[0] - by->value[0];
  return worse <= p->uncertainty[0] + by->uncertainty[0];
}

static void mark(cavum_front *front) {
  for (int i = 0; i < front->num_points; i++) {
    cavum_front_point *p = &front->points[i];
    bool room = has_room(front, p);
    for (int k = 0; k < front->num_points && p->kind == CAVUM_FRONT_POINT; k++) {
      const cavum_front_point *by = &front->points[k];
      if (k == i || by->kind == CAVUM_FRONT_GAP) continue;
      if (is_dominated(front, p, by)) p->kind = CAVUM_FRONT_DOMINATED;
      if (room && is_repeated(front, p, by)) p->kind = CAVUM_FRONT_BEYOND;
    }
    if (room && p->kind == CAVUM_FRONT_POINT) p->kind = CAVUM_FRONT_BEYOND;
  }
}

static cavum_status take(cavum_front *front, const cavum_front_walk *w, cavum_error *error) {
  const cavum_goal *goal = w->goal;
  int found = 0;
  cavum_status status = CAVUM_OK;
  front->num_axes = goal->num_axes;
  front->num_inputs = goal->study->num_inputs;
  front->mode = goal->study->mode;
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
    found += cavum_front_walk_found(w, front->num_points);
  }
  if (status != CAVUM_OK) return status;
  front->num_solves = w->part_solves + w->solving.num_solves;
  if (found == 0 && w->stopped) return cavum_fail(error, CAVUM_ERR_STOPPED, "stopped");
  if (found == 0) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "no point of the front: of %d none met the first-order conditions within the "
                      "limits",
                      w->num_points);
  }
  mark(front);
  return cavum_front_write_study(&front->study_text, front, goal, error);
}

static cavum_status fail_stopped(const cavum_front *front, cavum_error *error) {
  int missing = 0;
  for (int i = 0; i < front->num_points; i++) {
    missing += front->points[i].kind == CAVUM_FRONT_GAP;
  }
  return cavum_fail(error, CAVUM_ERR_STOPPED,
                    "stopped: %d of %d points of the front were found so far, which neighbours may "
                    "still make better",
                    front->num_points - missing, front->num_points);
}

static cavum_status run(cavum_front **front, cavum_front_walk *w, const cavum_parts *parts,
                        const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_search_watch watch = {.watcher = NULL};
  cavum_front *made = cavum_alloc(1, sizeof *made);
  cavum_search_watch_open(&watch, w->goal);
  if (!made) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_front_walk_open(w, options, error));
  status = parts ? cavum_front_walk_gather(w, parts, error) : cavum_front_walk_run(w, error);
  if (status == CAVUM_OK) status = cavum_front_walk_polish(w, error);
  w->stopped = status == CAVUM_ERR_STOPPED;
  if (status != CAVUM_OK && !w->stopped) goto done;
  CAVUM_TRY(take(made, w, error));
  if (w->stopped) status = fail_stopped(made, error);
  *front = made;
  made = NULL;
done:
  cavum_search_watch_close(&watch, w->goal);
  cavum_front_destroy(&made);
  return status;
}

static cavum_status fail_no_front(cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_USAGE, "the goal has no front");
}

cavum_status cavum_optimise_front(cavum_front **front, cavum_goal *goal,
                                  const cavum_solve_options *options, cavum_error *error) {
  if (!front || !goal) return cavum_fail_null(error, __func__);
  if (goal->num_axes == 0) return fail_no_front(error);
  cavum_front_walk w = {.goal = goal};
  cavum_status status = run(front, &w, NULL, options, error);
  cavum_front_walk_clear(&w);
  return status;
}

cavum_status cavum_optimise_front_gather(cavum_front **front, cavum_goal *goal, const char *output,
                                         const cavum_solve_options *options, cavum_error *error) {
  if (!front || !goal || !output) return cavum_fail_null(error, __func__);
  if (goal->num_axes == 0) return fail_no_front(error);
  cavum_parts parts;
  cavum_front_walk w = {.goal = goal};
  cavum_status status = cavum_parts_open(&parts, goal, output, (cavum_division){0, 0}, error);
  if (status == CAVUM_OK) status = run(front, &w, &parts, options, error);
  cavum_front_walk_clear(&w);
  cavum_parts_clear(&parts);
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
