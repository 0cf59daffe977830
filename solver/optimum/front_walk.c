// SPDX-License-Identifier: GPL-3.0-or-later
// Limits go through their ranges, and each point starts from its neighbour [Haimes1971].
#include "optimum/front_walk.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "optimum/polish.h"
#include "optimum/search_watch.h"
#include "optimum/starts.h"

void cavum_front_find_limits(double limit[CAVUM_FRONT_MOST_AXES], const cavum_goal *goal,
                             int point) {
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

void cavum_front_set_limits(cavum_goal *goal, int point) {
  double limit[CAVUM_FRONT_MOST_AXES];
  cavum_front_find_limits(limit, goal, point);
  for (int a = 0; a < goal->num_axes; a++) {
    cavum_requirement *what = &goal->quantities[goal->axes[a].quantity].what;
    if (goal->axes[a].smaller) what->most = limit[a];
    if (!goal->axes[a].smaller) what->least = limit[a];
  }
}

bool cavum_front_walk_found(const cavum_front_walk *w, int point) {
  return w->best[point].here && w->best[point].end == CAVUM_OPTIMUM_CONVERGED;
}

// Whether a search is better than another by more than both are known to.
static bool is_clearly_better(const cavum_front_walk *w, const cavum_search *search,
                              const cavum_search *than) {
  bool met = search->end == CAVUM_OPTIMUM_CONVERGED;
  if (!met || !than->here || than->end != CAVUM_OPTIMUM_CONVERGED) return met;
  double known = cavum_rows_objective_uncertainty(w->goal, search->here) +
                 cavum_rows_objective_uncertainty(w->goal, than->here);
  return search->objective < than->objective - known;
}

// What a search takes of another one is no longer needed once that has ended. Says whether the
// point is clearly better than before.
static bool keep_if_better(cavum_front_walk *w, cavum_search *search, int point) {
  cavum_search *best = &w->best[point];
  bool clearly = is_clearly_better(w, search, best);
  search->from = NULL;
  if (cavum_search_is_better(search, best)) {
    cavum_search old = *best;
    *best = *search;
    *search = old;
    memcpy(w->factor[point], w->solving.factor, sizeof w->factor[point]);
  }
  cavum_search_clear(search);
  return clearly;
}

static void tell_point(const cavum_front_walk *w, int point) {
  int found = 0;
  for (int i = w->first; i < w->end; i++) found += cavum_front_walk_found(w, i);
  cavum_search_watch_point(w->goal, point, found);
}

static cavum_status go_on(bool *better, cavum_front_walk *w, int point, int neighbour,
                          cavum_error *error) {
  cavum_search search = {.solving = &w->solving, .most_solves = w->goal->most_solves};
  if (!w->best[neighbour].here) return CAVUM_OK;
  search.from = &w->best[neighbour];
  memcpy(w->solving.factor, w->factor[neighbour], sizeof w->solving.factor);
  cavum_front_set_limits(w->goal, point);
  cavum_status status = cavum_search_run(&search, NULL, error);
  w->num_solves[point] += search.num_solves;
  if (status == CAVUM_OK) *better = keep_if_better(w, &search, point) || *better;
  if (status != CAVUM_OK) cavum_search_clear(&search);
  return status;
}

// All starts of the goal: of the first point, and of those to which no neighbour leads.
static cavum_status start_anew(cavum_front_walk *w, int point, cavum_error *error) {
  cavum_starts starts = {.goal = w->goal};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  cavum_front_set_limits(w->goal, point);
  for (int i = 0; i < w->goal->num_starts; i++) {
    for (int k = 0; k < CAVUM_GOAL_TRIES && cavum_starts_next(place, &starts); k++) {
      cavum_search search = {.solving = &w->solving, .most_solves = w->goal->most_solves};
      cavum_optimum_solving_forget(&w->solving);
      cavum_status status = cavum_search_run(&search, place, error);
      bool no_shape =
          status != CAVUM_OK && search.num_steps == 0 && cavum_optimum_is_no_shape(status);
      w->num_solves[point] += search.num_solves;
      if (status == CAVUM_OK) (void)keep_if_better(w, &search, point);
      if (status != CAVUM_OK) cavum_search_clear(&search);
      if (no_shape) continue;
      if (status != CAVUM_OK) return status;
      break;
    }
  }
  return CAVUM_OK;
}

/** Points before another one on a walk: in its row, and in the row before; -1: none. */
typedef struct before {
  int in_row, in_column;
} before;

static before find_before(const cavum_front_walk *w, int point, int way) {
  int row = w->goal->num_axes == 2 ? w->goal->axes[1].num_points : w->num_points;
  before b = {point - way, point - way * row};
  if (b.in_row < w->first || b.in_row >= w->end || b.in_row / row != point / row) b.in_row = -1;
  if (b.in_column < w->first || b.in_column >= w->end) b.in_column = -1;
  return b;
}

// With two limits, the other neighbour is that of the row before.
static cavum_status walk(cavum_front_walk *w, int way, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool better = false;
  for (int i = 0; i < w->end - w->first && status == CAVUM_OK; i++) {
    int point = way > 0 ? w->first + i : w->end - 1 - i;
    before b = find_before(w, point, way);
    tell_point(w, point);
    if (way > 0 && i == 0) status = start_anew(w, point, error);
    if (status == CAVUM_OK && b.in_row >= 0) status = go_on(&better, w, point, b.in_row, error);
    // The other neighbour where there is none in the row, or where that did not lead to a shape.
    bool needed = b.in_row < 0 || !cavum_front_walk_found(w, point);
    if (status == CAVUM_OK && b.in_column >= 0 && needed) {
      status = go_on(&better, w, point, b.in_column, error);
    }
    if (status == CAVUM_OK && way < 0 && !cavum_front_walk_found(w, point)) {
      status = start_anew(w, point, error);
    }
  }
  return status;
}

cavum_status cavum_front_walk_run(cavum_front_walk *w, cavum_error *error) {
  cavum_status status = walk(w, 1, error);
  return status == CAVUM_OK ? walk(w, -1, error) : status;
}

cavum_status cavum_front_walk_open(cavum_front_walk *w, const cavum_solve_options *options,
                                   cavum_error *error) {
  w->num_points = 1;
  for (int a = 0; a < w->goal->num_axes; a++) w->num_points *= w->goal->axes[a].num_points;
  w->end = w->num_points;
  w->best = cavum_alloc(w->num_points, sizeof *w->best);
  w->num_solves = cavum_alloc(w->num_points, sizeof *w->num_solves);
  w->segment = cavum_alloc(w->num_points, sizeof *w->segment);
  w->factor = cavum_alloc(w->num_points, sizeof *w->factor);
  if (!w->best || !w->num_solves || !w->segment || !w->factor) return cavum_fail_memory(error);
  cavum_search_watch_stage(w->goal, CAVUM_OPTIMUM_STAGE_FRONT, w->num_points);
  return cavum_optimum_solving_open(&w->solving, w->goal, options, error);
}

void cavum_front_walk_clear(cavum_front_walk *w) {
  for (int i = 0; w->best && i < w->num_points; i++) cavum_search_clear(&w->best[i]);
  free(w->best);
  free(w->num_solves);
  free(w->segment);
  free(w->factor);
  cavum_optimum_solving_clear(&w->solving);
}

// The points are ended by then: none starts from another one any more.
cavum_status cavum_front_walk_polish(cavum_front_walk *w, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < w->num_points && status == CAVUM_OK; i++) {
    if (!cavum_front_walk_found(w, i)) continue;
    int of_walk = w->best[i].num_solves;
    tell_point(w, i);
    cavum_front_set_limits(w->goal, i);
    memcpy(w->solving.factor, w->factor[i], sizeof w->factor[i]);
    w->solving.part = 1.0;
    status = cavum_search_polish(&w->best[i], error);
    w->num_solves[i] += w->best[i].num_solves - of_walk;
  }
  return status;
}

// ---- parts

static bool is_of_other(const cavum_front_walk *w, int point, int neighbour) {
  return neighbour >= 0 && w->segment[neighbour] != w->segment[point];
}

bool cavum_front_walk_is_at_seam(const cavum_front_walk *w, int point) {
  for (int way = -1; way <= 1; way += 2) {
    before b = find_before(w, point, way);
    if (is_of_other(w, point, b.in_row) || is_of_other(w, point, b.in_column)) return true;
  }
  return false;
}

// Across the seams one way: a point starts from what another part has, or from a neighbour that
// became better so.
static cavum_status join(cavum_front_walk *w, int way, bool *better, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < w->num_points && status == CAVUM_OK; i++) {
    int point = way > 0 ? i : w->num_points - 1 - i;
    before b = find_before(w, point, way);
    const int from[2] = {b.in_row, b.in_column};
    tell_point(w, point);
    better[point] = false;
    for (int k = 0; k < 2 && status == CAVUM_OK; k++) {
      bool leads = from[k] >= 0 && (is_of_other(w, point, from[k]) || better[from[k]]);
      if (leads) status = go_on(&better[point], w, point, from[k], error);
    }
  }
  return status;
}

// Segments are of one length, or one point shorter.
static void set_segment(cavum_front_walk *w, int64_t part, int64_t num_parts) {
  w->first = (int)((part - 1) * w->num_points / num_parts);
  w->end = (int)(part * w->num_points / num_parts);
}

static void pass_segment(cavum_record_bytes *bytes, cavum_front_walk *w, int *num_solves) {
  cavum_record_pass_int(bytes, num_solves, 0, INT32_MAX);
  for (int i = w->first; i < w->end; i++) {
    bool is_there = w->best[i].here != NULL;
    cavum_record_pass_int(bytes, &w->num_solves[i], 0, INT32_MAX);
    cavum_record_pass_bool(bytes, &is_there);
    if (!is_there) continue;
    cavum_record_pass(bytes, w->factor[i], sizeof w->factor[i]);
    cavum_record_pass_search(bytes, &w->best[i], w->goal);
  }
}

cavum_status cavum_front_walk_run_part(cavum_front_walk *w, const cavum_parts *parts,
                                       cavum_error *error) {
  char name[CAVUM_PARTS_NAME_SIZE];
  bool found = false;
  cavum_record_bytes bytes = {0};
  cavum_status status = CAVUM_OK;
  set_segment(w, parts->division.part, parts->division.num_parts);
  cavum_parts_name_segment(name, parts->division.part);
  cavum_search_watch_stage(w->goal, CAVUM_OPTIMUM_STAGE_FRONT, w->end - w->first);
  CAVUM_TRY(cavum_parts_read(&bytes, &found, parts, name, parts->division.num_parts, error));
  if (found) goto done;
  free(bytes.data);
  bytes = (cavum_record_bytes){.writing = true};
  if (w->first < w->end) CAVUM_TRY(cavum_front_walk_run(w, error));
  pass_segment(&bytes, w, &w->solving.num_solves);
  CAVUM_TRY(cavum_parts_write(parts, name, &bytes, error));
done:
  free(bytes.data);
  return status;
}

static cavum_status take_segment(cavum_front_walk *w, const cavum_parts *parts, int64_t part,
                                 int64_t num_parts, cavum_error *error) {
  char name[CAVUM_PARTS_NAME_SIZE];
  bool found = false;
  int num_solves = 0;
  cavum_record_bytes bytes = {0};
  set_segment(w, part, num_parts);
  cavum_parts_name_segment(name, part);
  cavum_status status = cavum_parts_read(&bytes, &found, parts, name, num_parts, error);
  if (status == CAVUM_OK && !found) {
    status = cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                        "part %lld/%lld is missing or damaged: run it again", (long long)part,
                        (long long)num_parts);
  }
  if (status == CAVUM_OK) {
    pass_segment(&bytes, w, &num_solves);
    if (bytes.status != CAVUM_OK) status = cavum_parts_fail(parts, name, bytes.status, error);
  }
  w->part_solves += num_solves;
  for (int i = w->first; i < w->end; i++) {
    w->segment[i] = (int)(part - 1);
    w->best[i].solving = &w->solving;
  }
  free(bytes.data);
  return status;
}

// The division that is complete, the one of fewest parts; else the first is told what it lacks.
static cavum_status find_division(int64_t *num_parts, const cavum_parts *parts,
                                  cavum_error *error) {
  int64_t lacks = 0, first = 0;
  for (int d = 0; d < parts->num_divisions; d++) {
    int64_t missing = 0;
    for (int64_t part = 1; part <= parts->divisions[d]; part++) {
      char name[CAVUM_PARTS_NAME_SIZE];
      cavum_parts_name_segment(name, part);
      if (cavum_parts_has(parts, name, parts->divisions[d])) continue;
      if (missing++ == 0 && d == 0) first = part;
    }
    *num_parts = parts->divisions[d];
    if (missing == 0) return CAVUM_OK;
    if (d == 0) lacks = missing;
  }
  if (parts->num_divisions == 0) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED, "there are no parts of %s", parts->output);
  }
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "%lld of %lld parts are missing, the first is %lld: run them again",
                    (long long)lacks, (long long)parts->divisions[0], (long long)first);
}

cavum_status cavum_front_walk_gather(cavum_front_walk *w, const cavum_parts *parts,
                                     cavum_error *error) {
  int64_t num_parts = 0;
  bool *better = NULL;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(find_division(&num_parts, parts, error));
  for (int64_t part = 1; part <= num_parts; part++) {
    CAVUM_TRY(take_segment(w, parts, part, num_parts, error));
  }
  w->first = 0;
  w->end = w->num_points;
  better = cavum_alloc(w->num_points, sizeof *better);
  if (!better) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(join(w, 1, better, error));
  CAVUM_TRY(join(w, -1, better, error));
done:
  free(better);
  return status;
}
