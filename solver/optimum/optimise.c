// SPDX-License-Identifier: GPL-3.0-or-later
// From a goal to its best shape: searches from several starts.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "optimum/free_wall.h"
#include "optimum/many_starts.h"
#include "optimum/outcome.h"
#include "optimum/polish.h"
#include "optimum/rates.h"
#include "optimum/robust.h"
#include "optimum/rounding.h"
#include "optimum/search.h"
#include "optimum/search_watch.h"
#include "solve/options.h"

/** A goal on its way to its best shape. */
typedef struct optimising {
  cavum_goal *goal;
  const cavum_parts *parts;  // whose searches are gathered; NULL: all starts are searched from here
  cavum_optimum_solving solving;
  cavum_many_starts many;  // owned
  int num_starts;
  cavum_optimum_start *starts;  // owned, shape [goal->num_starts]
  double *uncertainty;          // owned, likewise: of their objectives
  cavum_search best, rounded;   // owned
  int best_start;
  int num_optima, of_starts;  // solves of the starts that this thread did
  cavum_optimum_robust robust;
  char rounding_broken[CAVUM_OPTIMUM_BROKEN_SIZE], nominal_broken[CAVUM_OPTIMUM_BROKEN_SIZE];
} optimising;

static cavum_status copy_values(double **copy, const cavum_goal *goal, const double *place,
                                cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  *copy = cavum_alloc(goal->num_variables, sizeof **copy);
  if (!*copy) return cavum_fail_memory(error);
  cavum_optimum_inputs(values, goal, place);
  memcpy(*copy, values, (size_t)goal->num_variables * sizeof **copy);
  return CAVUM_OK;
}

// What a start came to.
static cavum_status tell_start(optimising *o, int index, const cavum_search *search,
                               cavum_error *error) {
  cavum_optimum_start *start = &o->starts[index];
  start->end = search->end;
  start->num_solves = search->num_solves;
  start->objective = search->objective;
  start->violation = search->violation;
  start->residual = search->residual;
  o->uncertainty[index] = cavum_rows_objective_uncertainty(o->goal, search->here);
  free(start->last);
  return copy_values(&start->last, o->goal, search->here->place, error);
}

static cavum_status keep(optimising *o, cavum_search *search, const double *place,
                         cavum_error *error) {
  int index = o->num_starts++;
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(copy_values(&o->starts[index].first, o->goal, place, error));
  CAVUM_TRY(tell_start(o, index, search, error));
  if (cavum_search_is_better(search, &o->best)) {
    cavum_search old = o->best;
    o->best = *search;
    *search = old;
    o->best_start = index;
  }
done:
  return status;
}

// Every start that is a shape: the best search stays, with what it found of peaks.
static cavum_status run_starts(optimising *o, const cavum_solve_options *options,
                               cavum_error *error) {
  cavum_status status =
      o->parts ? cavum_many_starts_gather(&o->many, o->parts, o->goal, &o->solving, options, error)
               : cavum_many_starts_run(&o->many, o->goal, &o->solving, options, error);
  if (status != CAVUM_OK && status != CAVUM_ERR_STOPPED) return status;
  for (int i = 0; i < o->many.num_started; i++) {
    cavum_started *started = &o->many.started[i];
    cavum_status kept = keep(o, &started->search, started->place, error);
    if (kept != CAVUM_OK) return kept;
  }
  if (o->many.num_started == 0) return status;
  memcpy(o->solving.factor, o->many.started[o->best_start].factor, sizeof o->solving.factor);
  return status;
}

// Objectives that differ by less are one: the accuracy asked for of each figure.
static double same(const optimising *o) {
  double sum = 0.0;
  for (int i = 0; i < o->goal->num_terms; i++) sum += fabs(o->goal->quantities[i].weight);
  return sum * o->goal->study->cell.accuracy_other_figures;
}

// Which starts led to the best value, and how many values there are.
static int count_optima(optimising *o) {
  int count = 0;
  for (int i = 0; i < o->num_starts; i++) {
    const cavum_optimum_start *start = &o->starts[i];
    bool is_new = start->end == CAVUM_OPTIMUM_CONVERGED;
    for (int k = 0; k < i && is_new; k++) {
      double off = fabs(start->objective - o->starts[k].objective);
      bool one = off <= same(o) + o->uncertainty[i] + o->uncertainty[k];
      is_new = !(one && o->starts[k].end == CAVUM_OPTIMUM_CONVERGED);
    }
    count += is_new;
    double off = fabs(start->objective - o->best.objective);
    double uncertain = o->uncertainty[i] + o->uncertainty[o->best_start];
    o->starts[i].is_best = start->end == CAVUM_OPTIMUM_CONVERGED && off <= same(o) + uncertain;
    // Where none converged it is the one within the limits that came farthest.
    if (o->best.end != CAVUM_OPTIMUM_CONVERGED && cavum_search_is_within(&o->best)) {
      o->starts[i].is_best = i == o->best_start;
    }
  }
  return count;
}

// Says what there is of a search that was stopped.
static cavum_status fail_stopped(const cavum_optimum *made, cavum_error *error) {
  if (!made->within_limits) {
    return cavum_fail(error, CAVUM_ERR_STOPPED,
                      "stopped before the limits were met: in the nearest shape %s", made->broken);
  }
  return cavum_fail(error, CAVUM_ERR_STOPPED,
                    "stopped: the best shape so far keeps the limits, first-order conditions met "
                    "to %.2g%s",
                    made->residual, made->not_rounded ? "; it is not rounded" : "");
}

// Says that the workshop cannot make a shape as it is.
static cavum_status fail_rounding(const cavum_optimum *made, cavum_error *error) {
  if (isnan(made->rounding_violation)) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "not rounded: no way that was tried of rounding to the steps gives a shape; "
                      "the result is the best shape before rounding");
  }
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "not rounded: no way that was tried of rounding to the steps keeps the limits, "
                    "in the best one %s; the result is the best shape before rounding",
                    made->rounding_broken);
}

// Says what a shape is that is not proven to be the best. `rounding`: the search was met, but not
// what its dimensions were rounded to.
static cavum_status fail_unproven(const cavum_optimum *made, bool rounding, cavum_error *error) {
  char of_starts[64] = "";
  if (made->num_starts > 1) {
    snprintf(of_starts, sizeof of_starts, "%s of %d starts",
             made->within_limits ? ", the best" : "", made->num_starts);
  }
  if (made->not_rounded) return fail_rounding(made, error);
  if (made->within_limits) {
    return cavum_fail(
        error, CAVUM_ERR_NOT_CONVERGED,
        "not proven best: the search ended %s%s%s, first-order conditions met to %.2g; limits are "
        "met to %.2g, within their accuracy%s%s",
        cavum_optimum_end_word(made->end), of_starts, rounding ? ", rounded to the steps" : "",
        made->residual, made->violation, made->unproven[0] ? ": " : "", made->unproven);
  }
  if (made->end == CAVUM_OPTIMUM_OUT_OF_SOLVES) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "out of solves before the limits were met: in the nearest shape%s %s; give "
                      "more 'solves', or start another search from its cell",
                      of_starts, made->broken);
  }
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "no best shape: no search met the limits, in the nearest shape%s %s", of_starts,
                    made->broken);
}

// Whether dimensions are rounded and a limit is broken so, or there is no shape any more.
static bool is_lost_by_rounding(const optimising *o) {
  const cavum_search *rounded = &o->rounded;
  return !rounded->here || cavum_rows_violation_in_accuracies(o->goal, rounded->here) > 1.0;
}

// Rounds the best shape where that is wanted. What rounding came to before it was stopped counts
// where it keeps the limits.
static cavum_status round_best(optimising *o, cavum_outcome_notes *notes, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool wanted = o->best.end == CAVUM_OPTIMUM_CONVERGED && cavum_rounding_is_wanted(o->goal);
  if (!wanted) return CAVUM_OK;
  cavum_search_watch_stage(o->goal, CAVUM_OPTIMUM_STAGE_ROUNDING, 0);
  if (!notes->stopped) status = cavum_rounding_search(&o->rounded, &o->best, error);
  if (status == CAVUM_ERR_STOPPED) notes->stopped = true;
  if (status != CAVUM_OK && status != CAVUM_ERR_STOPPED) return status;
  notes->not_rounded = is_lost_by_rounding(o);
  if (!notes->not_rounded || !o->rounded.here) return CAVUM_OK;
  notes->rounding_violation = o->rounded.violation;
  cavum_rows_tell_broken(o->rounding_broken, o->goal, o->rounded.here);
  return CAVUM_OK;
}

// `stopped`: nothing follows the searches any more.
static cavum_status make_outcome(cavum_optimum **optimum, optimising *o, bool stopped,
                                 const cavum_solve_options *options, cavum_error *error) {
  cavum_optimum *made = NULL;
  cavum_solve_options own;
  cavum_outcome_notes notes = {.rounding_violation = NAN,
                               .rounding_broken = o->rounding_broken,
                               .nominal_broken = o->nominal_broken,
                               .stopped = stopped};
  cavum_status status = round_best(o, &notes, error);
  if (status == CAVUM_OK) status = cavum_solve_options_take(&own, options, error);
  if (status != CAVUM_OK) return status;
  own.stop = NULL;  // what it takes to hand out what was found
  const cavum_search *last = o->rounded.here && !notes.not_rounded ? &o->rounded : &o->best;
  status = cavum_outcome_make(&made, &o->best, last, &notes, &own, error);
  if (status != CAVUM_OK) return status;
  made->num_optima = o->num_optima;
  made->robust = o->robust;
  made->num_solves = o->many.num_solves + o->solving.num_solves - o->of_starts;
  made->num_starts = o->num_starts;
  made->starts = o->starts;
  o->starts = NULL;
  *optimum = made;
  if (notes.stopped) return fail_stopped(made, error);
  return made->met && !made->not_rounded ? CAVUM_OK : fail_unproven(made, last != &o->best, error);
}

// From a nominal best shape to that in the worst case, or on average.
static cavum_status follow_tolerances(optimising *o, const cavum_solve_options *options,
                                      cavum_error *error) {
  if (o->best.end != CAVUM_OPTIMUM_CONVERGED) return CAVUM_OK;
  cavum_search_watch_stage(o->goal, CAVUM_OPTIMUM_STAGE_TOLERANCES, 0);
  cavum_status status =
      cavum_robust_search(&o->best, o->goal, &o->robust, o->nominal_broken, options, error);
  return status == CAVUM_OK ? cavum_search_polish(&o->best, error) : status;
}

static cavum_status run(cavum_optimum **optimum, optimising *o, const cavum_solve_options *options,
                        cavum_error *error) {
  cavum_goal *goal = o->goal;
  cavum_status status = CAVUM_OK;
  o->starts = cavum_alloc(goal->num_starts, sizeof *o->starts);
  o->uncertainty = cavum_alloc(goal->num_starts, sizeof *o->uncertainty);
  if (!o->starts || !o->uncertainty) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_optimum_solving_open(&o->solving, goal, options, error));
  status = run_starts(o, options, error);
  bool stopped = status == CAVUM_ERR_STOPPED;
  if (status != CAVUM_OK && !(stopped && o->best.here)) goto done;
  if (!o->best.here) {
    const cavum_error *why = &o->many.last;
    CAVUM_TRY(cavum_fail(error, why->status, "no start is a shape: %s", why->message));
  }
  o->of_starts = o->solving.num_solves;
  if (goal->robust == CAVUM_ROBUST_NONE && !stopped) {
    status = cavum_search_polish(&o->best, error);
    if (status == CAVUM_OK) status = tell_start(o, o->best_start, &o->best, error);
    stopped = status == CAVUM_ERR_STOPPED;
    if (status != CAVUM_OK && !stopped) goto done;
  }
  o->num_optima = count_optima(o);
  if (goal->robust != CAVUM_ROBUST_NONE && !stopped) {
    status = follow_tolerances(o, options, error);
    stopped = status == CAVUM_ERR_STOPPED;
    if (status != CAVUM_OK && !stopped) goto done;
  }
  o->robust.left_out = goal->robust != CAVUM_ROBUST_NONE && o->robust.kind == CAVUM_ROBUST_NONE;
  status = make_outcome(optimum, o, stopped, options, error);
  if (status != CAVUM_OK && o->robust.left_out && *optimum && error) {
    const cavum_error why = *error;
    status = cavum_fail(error, why.status,
                        "%s; tolerances are left out: they are taken into account from a nominal "
                        "best shape on",
                        why.message);
  }
done:
  return status;
}

static cavum_status optimise(cavum_optimum **optimum, cavum_goal *goal, const cavum_parts *parts,
                             const cavum_solve_options *options, cavum_error *error) {
  optimising *o = cavum_alloc(1, sizeof *o);
  if (!o) return cavum_fail_memory(error);
  o->goal = goal;
  o->parts = parts;
  cavum_status status = run(optimum, o, options, error);
  for (int i = 0; o->starts && i < goal->num_starts; i++) {
    free(o->starts[i].first);
    free(o->starts[i].last);
  }
  free(o->starts);
  free(o->uncertainty);
  cavum_many_starts_clear(&o->many);
  cavum_search_clear(&o->best);
  cavum_search_clear(&o->rounded);
  for (int i = 0; i < goal->num_quantities; i++) {
    free(goal->quantities[i].margin.places);
    goal->quantities[i].margin = (cavum_goal_margin){0};  // the next search is nominal again
  }
  goal->is_robust = goal->is_apart = false;
  cavum_optimum_solving_clear(&o->solving);
  free(o);
  return status;
}

// Whether a free wall is better than the best two ellipses, within the limits.
static bool is_better(const cavum_optimum *free_wall, const cavum_optimum *two_ellipse) {
  if (!free_wall) return false;
  return (free_wall->met || free_wall->within_limits) &&
         free_wall->objective < two_ellipse->objective;
}

static cavum_status describe_free_wall(cavum_optimum_free_wall *wall, const cavum_goal *goal,
                                       const cavum_optimum *two_ellipse, const cavum_optimum *made,
                                       cavum_status status, cavum_error *error) {
  cavum_optimum_end none =
      status == CAVUM_ERR_STOPPED ? CAVUM_OPTIMUM_STOPPED : CAVUM_OPTIMUM_NO_SHAPE;
  *wall = (cavum_optimum_free_wall){.num_points = goal->free_wall.num_points,
                                    .two_ellipse = two_ellipse->objective,
                                    .start = made ? made->steps[0].objective : NAN,
                                    .num_solves = two_ellipse->num_solves,
                                    .taken = is_better(made, two_ellipse),
                                    .end = made ? made->end : none,
                                    .objective = made ? made->objective : NAN,
                                    .residual = made ? made->residual : NAN,
                                    .violation = made ? made->violation : NAN,
                                    .num_solves_free = made ? made->num_solves : 0};
  wall->two_ellipse_text = cavum_copy_text(two_ellipse->cell_text);
  return wall->two_ellipse_text ? CAVUM_OK : cavum_fail_memory(error);
}

// What failed is said, and what there is instead. A search that converged to something no better
// is an answer.
static cavum_status fail_free_wall(cavum_status status, const cavum_error *why,
                                   const cavum_optimum_free_wall *wall, const char *broken,
                                   cavum_error *error) {
  if (status == CAVUM_OK) return CAVUM_OK;
  if (wall->taken) {
    return cavum_fail(error, status == CAVUM_ERR_STOPPED ? status : CAVUM_ERR_NOT_CONVERGED,
                      "free wall: %s", why->message);
  }
  if (status == CAVUM_ERR_STOPPED) {
    return cavum_fail(error, status,
                      "stopped while the free wall was searched for: the result is the best of two "
                      "ellipses");
  }
  if (wall->end == CAVUM_OPTIMUM_NO_SHAPE) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "the result is the best of two ellipses: of the free wall %s", why->message);
  }
  if (wall->end == CAVUM_OPTIMUM_INFEASIBLE) {
    return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                      "the result is the best of two ellipses: the search for the free wall met no "
                      "shape within the limits, in the nearest %s",
                      broken);
  }
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "the result is the best of two ellipses: the search for the free wall came to "
                    "nothing better and ended %s, first-order conditions met to %.2g",
                    cavum_optimum_end_word(wall->end), wall->residual);
}

// Goes on from the best shape of two ellipses, which becomes part of what the free wall came to,
// or stays the result.
static cavum_status free_the_wall(cavum_optimum **optimum, const cavum_goal *goal,
                                  const cavum_solve_options *options, cavum_error *error) {
  cavum_goal *free_goal = NULL;
  cavum_optimum *made = NULL;
  cavum_optimum_free_wall wall = {0};
  cavum_error why = {0};
  cavum_status status = cavum_free_wall_open(&free_goal, goal, *optimum, &why);
  cavum_search_watch_stage(goal, CAVUM_OPTIMUM_STAGE_FREE_WALL, 0);
  if (status == CAVUM_OK) free_goal->watch = goal->watch;
  if (status == CAVUM_OK) status = optimise(&made, free_goal, NULL, options, &why);
  cavum_goal_close(&free_goal);
  if (status == CAVUM_ERR_MEMORY || status == CAVUM_ERR_INTERNAL) {
    cavum_optimum_destroy(&made);
    return cavum_fail(error, status, "%s", why.message);
  }
  cavum_status described = describe_free_wall(&wall, goal, *optimum, made, status, error);
  if (described != CAVUM_OK) {
    cavum_optimum_destroy(&made);
    return described;
  }
  char broken[CAVUM_OPTIMUM_BROKEN_SIZE] = "";
  if (made) snprintf(broken, sizeof broken, "%s", made->broken);
  if (wall.taken && made) {
    wall.two_ellipse_search = *optimum;
    *optimum = made;
    made = NULL;
  }
  (*optimum)->free_wall = wall;
  (*optimum)->num_solves = wall.num_solves + wall.num_solves_free;
  cavum_optimum_destroy(&made);
  return fail_free_wall(status, &why, &wall, broken, error);
}

static cavum_status optimise_all(cavum_optimum **optimum, cavum_goal *goal,
                                 const cavum_parts *parts, const cavum_solve_options *options,
                                 cavum_error *error) {
  cavum_optimum *made = NULL;
  cavum_search_watch watch = {.watcher = NULL};
  cavum_search_watch_open(&watch, goal);
  cavum_search_watch_stage(goal, CAVUM_OPTIMUM_STAGE_STARTS, goal->num_starts);
  cavum_status status = optimise(&made, goal, parts, options, error);
  if (status == CAVUM_OK && cavum_goal_has_free_wall(goal)) {
    status = free_the_wall(&made, goal, options, error);
  } else if (made && cavum_goal_has_free_wall(goal) && error) {
    const cavum_error why = *error;
    status = cavum_fail(error, why.status,
                        "%s; no free wall was searched for: it starts from a "
                        "best shape",
                        why.message);
  }
  cavum_search_watch_close(&watch, goal);
  bool given =
      status == CAVUM_OK || status == CAVUM_ERR_NOT_CONVERGED || status == CAVUM_ERR_STOPPED;
  if (!given) cavum_optimum_destroy(&made);
  if (made) *optimum = made;
  return status;
}

cavum_status cavum_optimise(cavum_optimum **optimum, cavum_goal *goal,
                            const cavum_solve_options *options, cavum_error *error) {
  if (!optimum || !goal) return cavum_fail_null(error, __func__);
  return optimise_all(optimum, goal, NULL, options, error);
}

cavum_status cavum_optimise_gather(cavum_optimum **optimum, cavum_goal *goal, const char *output,
                                   const cavum_solve_options *options, cavum_error *error) {
  if (!optimum || !goal || !output) return cavum_fail_null(error, __func__);
  cavum_parts parts;
  if (goal->num_axes > 0) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "a front is gathered by another function");
  }
  cavum_status status = cavum_parts_open(&parts, goal, output, (cavum_division){0, 0}, error);
  if (status == CAVUM_OK) status = optimise_all(optimum, goal, &parts, options, error);
  cavum_parts_clear(&parts);
  return status;
}
