// SPDX-License-Identifier: GPL-3.0-or-later
// Worst cases to first order: a figure and some standard deviations of its linear spread. The
// spread is made of first derivatives, so its own derivatives are differences of neighbours. A peak
// is the largest of the places of the wall, each with its own spread: where places compete, the
// spread of the peak has a kink, those of the places have none. Means to second order: what
// curvature adds is found likewise; that a peak is the largest of its maxima each solve knows.
#include "optimum/robust.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "base/files.h"
#include "cavum/tolerance.h"
#include "cell/cell.h"
#include "design/spread.h"
#include "optimum/mean_peak.h"
#include "optimum/mean_shift.h"
#include "optimum/rates.h"
#include "optimum/shape_spread.h"
#include "scan/study_reader.h"
#include "solve/options.h"

// Of the ranges of the variables: far enough for the noise of derivatives, near enough for a line.
static const double STEP = 0.01;
// Margins hold when they change by less than this part of the accuracy asked for of the figure.
static const double MET = 0.5;
static const double NEGLIGIBLE = 0.1;
enum { MOST_PASSES = 8 };
// Far from any point of a wall.
static const cavum_index NO_POINT = -1000000000;

cavum_status cavum_robust_read(cavum_goal *goal, const char *file, cavum_error *error) {
  const cavum_study *study = goal->study;
  if (!file) {
    const char *text = study->cell.text ? study->cell.text : "";
    return cavum_tolerances_read_text(&goal->tolerances, &study->cell, text, strlen(text),
                                      study->cell_path, error);
  }
  char *path = cavum_study_beside(study->path, file);
  if (!path) return cavum_fail_memory(error);
  cavum_status status = cavum_tolerances_read_file(&goal->tolerances, &study->cell, path, error);
  if (status == CAVUM_OK) status = cavum_files_add(&goal->study->files, path, error);
  free(path);
  return status;
}

// Whether a quantity gets a margin as a whole, not place by place: of the first cell, whose
// tolerances are known. The coupling has no spread.
static bool has_margin(const cavum_goal *goal, const cavum_goal_quantity *q) {
  if (goal->robust == CAVUM_ROBUST_MEAN) return cavum_mean_shift_is_of(q);
  return q->cell == 0 && q->worse != 0 && !q->margin.places && q->what.kind != CAVUM_REQUIRE_K_CC;
}

static bool has_other_margins(const cavum_goal *goal, bool of_modes) {
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (has_margin(goal, q) && !(of_modes && cavum_optimum_is_of_shape(q))) return true;
  }
  return false;
}

static cavum_status deviation_of(double *deviation, const cavum_goal *goal, const cavum_cell *cell,
                                 const cavum_spread *spread, const cavum_requirement *what,
                                 cavum_error *error) {
  int id = (int)what->kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
  if (id >= 0) {
    return cavum_shape_spread_find(deviation, cell, goal->tolerances, (cavum_geometry_id)id, error);
  }
  CAVUM_ASSERT(spread);  // has_other_margins()
  const cavum_figure_spread *f = &spread->figures[what->figure];
  if (!f->has_linear) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s has no spread by the tolerances%s%s", what->key,
                      f->reason ? ": " : "", f->reason ? f->reason : "");
  }
  *deviation = f->deviation;
  return CAVUM_OK;
}

static cavum_status find_spread(cavum_spread **spread, const cavum_goal *goal,
                                const cavum_cell *cell, cavum_optimum_solving *solving,
                                const cavum_solve_options *options, cavum_error *error) {
  cavum_spread_options choices = cavum_spread_options_default();
  choices.mode = goal->study->mode;
  if (!has_other_margins(goal, true)) return CAVUM_OK;
  solving->num_solves++;
  return cavum_spread_make_linear(spread, cell, goal->tolerances, &choices, options, error);
}

// Of the worst case, at a place of the quantities that have no places.
static cavum_status find_deviations(double *margin, const cavum_goal *goal, const double *place,
                                    cavum_optimum_solving *solving,
                                    const cavum_solve_options *options, cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_cell cell;
  bool owned = false;
  cavum_spread *spread = NULL;
  cavum_optimum_inputs(values, goal, place);
  cavum_status status = cavum_study_apply(&cell, &owned, goal->study, values, error);
  if (status != CAVUM_OK) return status;
  status = find_spread(&spread, goal, &cell, solving, options, error);
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    margin[i] = 0.0;
    if (!has_margin(goal, q)) continue;
    status = deviation_of(&margin[i], goal, &cell, spread, &q->what, error);
    margin[i] *= goal->deviations;
  }
  cavum_spread_destroy(&spread);
  if (owned) cavum_cell_clear(&cell);
  return status;
}

static cavum_status find_margins(double *margin, const cavum_goal *goal, const double *place,
                                 cavum_optimum_solving *solving, const cavum_solve_options *options,
                                 cavum_error *error) {
  if (goal->robust == CAVUM_ROBUST_MEAN) {
    return cavum_mean_shift_find(margin, goal, solving, place, error);
  }
  return find_deviations(margin, goal, place, solving, options, error);
}

// Margins and their slopes about a place. `change` is the largest of what the ones before were off
// there, over the accuracy of the figure.
static cavum_status fit_figures(double *change, cavum_goal *goal, const cavum_search *best,
                                const cavum_solve_options *options, cavum_error *error) {
  int n = goal->num_variables;
  double here[CAVUM_GOAL_MOST_QUANTITIES], beside[CAVUM_GOAL_MOST_QUANTITIES];
  const double *place = best->here->place;
  cavum_status status = find_margins(here, goal, place, best->solving, options, error);
  double most = 0.0;  // over the accuracy of the figure, as `change`
  *change = 0.0;
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    cavum_goal_quantity *q = &goal->quantities[i];
    double off = fabs(here[i] - cavum_optimum_margin(goal, q, place));
    double size = cavum_max(fabs(best->here->values[i].value), q->what.unit_si * 1e-3);
    double known_to = size * goal->study->cell.accuracy_other_figures;
    if (cavum_optimum_margin_is_of_square(goal, q)) known_to *= 2.0 * size;
    *change = cavum_max(*change, off / known_to);
    most = cavum_max(most, fabs(here[i]) / known_to);
    q->margin.value = here[i];
    memset(q->margin.slope, 0, sizeof q->margin.slope);
    memcpy(q->margin.at, place, (size_t)n * sizeof *place);
  }
  // Curvature that is far below what figures are known to changes nothing on the way either.
  if (goal->robust == CAVUM_ROBUST_MEAN && most < NEGLIGIBLE) return status;
  for (int j = 0; j < n && status == CAVUM_OK; j++) {
    double moved[CAVUM_GOAL_MOST_VARIABLES], step = place[j] > 0.5 ? -STEP : STEP;
    memcpy(moved, place, (size_t)n * sizeof *place);
    moved[j] += step;
    status = find_margins(beside, goal, moved, best->solving, options, error);
    // No shape there: the margin is taken as it is.
    if (cavum_optimum_is_no_shape(status)) {
      status = CAVUM_OK;
      continue;
    }
    for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
      goal->quantities[i].margin.slope[j] = (beside[i] - here[i]) / step;
    }
  }
  return status;
}

// ---- peaks place by place

// The place of a neighbour at the same point of the wall.
static const cavum_optimum_place *same_place(const cavum_optimum_value *v,
                                             const cavum_optimum_value *of, cavum_index point) {
  if (v->num_wall_points != of->num_wall_points) return NULL;
  for (int k = 0; k < v->num_places; k++) {
    if (v->places[k].point == point && v->places[k].at_point) return &v->places[k];
  }
  return NULL;
}

// What tolerances add there.
static double margin_of(const cavum_goal *goal, const cavum_optimum_value *v,
                        const cavum_optimum_place *p) {
  return goal->deviations * v->value * exp(p->below) * p->spread;
}

// Slopes of the margins of one peak by a variable, from its neighbours to both sides.
static void fit_peak(cavum_goal_quantity *q, const cavum_goal *goal, const cavum_optimum_value *low,
                     const cavum_optimum_value *high, double step, int variable) {
  for (int k = 0; k < q->margin.num_places; k++) {
    cavum_goal_place_margin *m = &q->margin.places[k];
    const cavum_optimum_place *below = same_place(low, high, m->point);
    const cavum_optimum_place *above = same_place(high, low, m->point);
    // A place that a neighbour does not list is far below the peak, or a maximum there.
    if (!below || !above) m->point = NO_POINT;
    if (!below || !above) continue;
    m->slope[variable] = (margin_of(goal, high, above) - margin_of(goal, low, below)) / step;
  }
}

// Nominal figures about a place.
static cavum_status solve_beside(cavum_optimum_point *point, const cavum_search *best, int variable,
                                 double step, cavum_error *error) {
  double place[CAVUM_GOAL_MOST_VARIABLES];
  memcpy(place, best->here->place, sizeof place);
  place[variable] = cavum_min(cavum_max(place[variable] + step, 0.0), 1.0);
  return cavum_optimum_point_solve(point, best->solving, place, error);
}

// Slopes of the mean of a peak by what tolerances do to its points, whose values stay.
static cavum_status fit_tilt(cavum_goal_quantity *q, const cavum_goal *goal,
                             const cavum_optimum_value *here, const cavum_optimum_value *low,
                             const cavum_optimum_value *high, double step, int variable,
                             cavum_error *error) {
  cavum_mean_peak peak;
  int count = goal->tolerances->count;
  double mean[2] = {0.0};
  cavum_status status = cavum_mean_peak_list(&peak, here, goal, error);
  for (int side = 0; side < 2 && status == CAVUM_OK; side++) {
    for (int m = 0; m < peak.num_points; m++) {
      // Both neighbours have the point, or it stays as it is.
      const cavum_optimum_wall_point *k = cavum_mean_peak_match(here, low, peak.points[m]->index);
      const cavum_optimum_wall_point *l = cavum_mean_peak_match(here, high, peak.points[m]->index);
      const cavum_optimum_wall_point *p = !k || !l ? peak.points[m] : side == 0 ? k : l;
      for (int t = 0; t < count; t++) peak.slope[m * count + t] = peak.value[m] * p->by[t];
    }
    mean[side] = cavum_mean_peak_find(&peak, goal);
  }
  if (status == CAVUM_OK) q->margin.tilt[variable] = (mean[1] - mean[0]) / step;
  cavum_mean_peak_clear(&peak);
  return status;
}

static cavum_status fit_tilts(cavum_goal *goal, const cavum_optimum_point *here,
                              const cavum_optimum_point *low, const cavum_optimum_point *high,
                              int variable, cavum_error *error) {
  double step = high->place[variable] - low->place[variable];
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    if (here->values[i].num_points == 0) continue;
    status = fit_tilt(&goal->quantities[i], goal, &here->values[i], &low->values[i],
                      &high->values[i], step, variable, error);
  }
  return status;
}

// Which places of the peaks have margins of their own.
static cavum_status list_places(bool *any, cavum_goal *goal, const cavum_search *best,
                                cavum_error *error) {
  *any = false;
  for (int i = 0; i < goal->num_quantities; i++) {
    cavum_goal_quantity *q = &goal->quantities[i];
    const cavum_optimum_value *v = &best->here->values[i];
    free(q->margin.places);
    q->margin.places = NULL;
    q->margin.num_places = 0;
    if (!cavum_optimum_has_place_spreads(q, v)) continue;
    q->margin.places = cavum_alloc(v->num_places, sizeof *q->margin.places);
    if (!q->margin.places) return cavum_fail_memory(error);
    for (int k = 0; k < v->num_places; k++) {
      if (v->places[k].at_point)
        q->margin.places[q->margin.num_places++].point = v->places[k].point;
    }
    *any = true;
  }
  return CAVUM_OK;
}

static cavum_status fit_peaks(cavum_goal *goal, const cavum_search *best, cavum_error *error) {
  bool any, was_robust = goal->is_robust;
  cavum_status status = list_places(&any, goal, best, error);
  goal->is_robust = false;
  for (int j = 0; j < goal->num_variables && any && status == CAVUM_OK; j++) {
    cavum_optimum_point low = {.place = {0.0}}, high = {.place = {0.0}};
    status = solve_beside(&low, best, j, -STEP, error);
    if (status == CAVUM_OK) status = solve_beside(&high, best, j, STEP, error);
    for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
      fit_peak(&goal->quantities[i], goal, &low.values[i], &high.values[i],
               high.place[j] - low.place[j], j);
    }
    cavum_optimum_point_clear(&low);
    cavum_optimum_point_clear(&high);
    // No shape there: the margins are taken as they are.
    if (cavum_optimum_is_no_shape(status)) status = CAVUM_OK;
  }
  goal->is_robust = was_robust;
  return status;
}

// Of means what changes with the variables, besides the values of points. Records of searches do
// not keep what each tolerance does, so the shape is solved again.
static cavum_status fit_peak_means(cavum_goal *goal, const cavum_search *best, cavum_error *error) {
  bool was_robust = goal->is_robust;
  cavum_optimum_point here = {.place = {0.0}};
  goal->is_robust = false;
  cavum_status status = solve_beside(&here, best, 0, 0.0, error);
  for (int j = 0; j < goal->num_variables && status == CAVUM_OK; j++) {
    cavum_optimum_point low = {.place = {0.0}}, high = {.place = {0.0}};
    status = solve_beside(&low, best, j, -STEP, error);
    if (status == CAVUM_OK) status = solve_beside(&high, best, j, STEP, error);
    if (status == CAVUM_OK) status = fit_tilts(goal, &here, &low, &high, j, error);
    cavum_optimum_point_clear(&low);
    cavum_optimum_point_clear(&high);
    // No shape there: they are taken as they are.
    if (cavum_optimum_is_no_shape(status)) status = CAVUM_OK;
  }
  cavum_optimum_point_clear(&here);
  goal->is_robust = was_robust;
  return status;
}

static bool has_peaks(const cavum_goal *goal) {
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    if (q->cell == 0 && cavum_goal_peak(q) >= 0) return true;
  }
  return false;
}

// Margins of everything about a place.
static cavum_status fit_margins(double *change, cavum_goal *goal, const cavum_search *best,
                                const cavum_solve_options *options, cavum_error *error) {
  *change = 0.0;
  cavum_status status = CAVUM_OK;
  if (goal->robust == CAVUM_ROBUST_WORST) status = fit_peaks(goal, best, error);
  if (goal->robust == CAVUM_ROBUST_MEAN && has_peaks(goal)) {
    status = fit_peak_means(goal, best, error);
  }
  if (status != CAVUM_OK || !has_other_margins(goal, false)) return status;
  return fit_figures(change, goal, best, options, error);
}

// Peaks of which margins are taken as a whole: 1 E, 2 B.
static int list_whole_peaks(const cavum_search *best) {
  const cavum_goal *goal = best->solving->goal;
  int whole = 0;
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    int peak = cavum_goal_peak(q);
    if (peak < 0 || !has_margin(goal, q)) continue;
    if (!cavum_optimum_has_place_spreads(q, &best->here->values[i])) whole |= 1 << peak;
  }
  return whole;
}

static bool lacks_place_spreads(const cavum_search *best) {
  const cavum_goal *goal = best->solving->goal;
  for (int i = 0; i < goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    const cavum_optimum_value *v = &best->here->values[i];
    bool is_peak = q->cell == 0 && q->by_places && v->num_places > 0;
    if (is_peak && !cavum_optimum_has_place_spreads(q, v)) return true;
  }
  return false;
}

// The nominal best shape once more where a half errs alone: with places along the wall that know
// what each half does.
static cavum_status solve_apart(cavum_search *best, cavum_goal *goal, cavum_error *error) {
  cavum_optimum_point point = {.place = {0.0}};
  if (!lacks_place_spreads(best)) return CAVUM_OK;
  goal->is_apart = true;
  cavum_status status = cavum_optimum_point_solve(&point, best->solving, best->here->place, error);
  if (status != CAVUM_OK) return status;
  cavum_optimum_point_clear(best->here);
  *best->here = point;
  return CAVUM_OK;
}

// The nominal best shape in the worst case, or its mean.
static cavum_status judge_nominal(cavum_optimum_robust *robust, char *broken,
                                  const cavum_search *best, cavum_error *error) {
  cavum_optimum_point point = {.place = {0.0}};
  const cavum_goal *goal = best->solving->goal;
  cavum_status status = cavum_optimum_point_solve(&point, best->solving, best->here->place, error);
  if (status != CAVUM_OK) return status;
  robust->nominal_worst = cavum_rows_objective(goal, &point);
  robust->nominal_violation = cavum_rows_violation(goal, &point);
  cavum_rows_tell_broken(broken, goal, &point);
  cavum_optimum_point_clear(&point);
  return CAVUM_OK;
}

// Goes on from there. A search that is stopped counts with what it came to.
static cavum_status search_on(cavum_search *best, int *num_passes, cavum_error *error) {
  cavum_search search = {.solving = best->solving, .most_solves = best->most_solves};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  memcpy(place, best->here->place, sizeof place);
  cavum_status status = cavum_search_run(&search, place, error);
  bool stopped = status == CAVUM_ERR_STOPPED && search.num_steps > 0;
  if (status != CAVUM_OK && !stopped) {
    cavum_search_clear(&search);
    return status;
  }
  cavum_search_clear(best);
  *best = search;
  ++*num_passes;
  return status;
}

// What a search ended with, with margins of that very shape: those that it used came from another.
static cavum_status settle(cavum_search *best, cavum_goal *goal, const cavum_solve_options *options,
                           cavum_error *error) {
  double change = 0.0;
  cavum_optimum_point point = {.place = {0.0}};
  cavum_status status = fit_margins(&change, goal, best, options, error);
  if (status != CAVUM_OK) return status;
  status = cavum_optimum_point_solve(&point, best->solving, best->here->place, error);
  if (status != CAVUM_OK) return status;
  cavum_optimum_point_clear(best->here);
  *best->here = point;
  best->objective = cavum_rows_objective(goal, best->here);
  best->violation = cavum_rows_violation(goal, best->here);
  bool broken = cavum_rows_violation_in_accuracies(goal, best->here) > 1.0;
  if (broken && best->end != CAVUM_OPTIMUM_OUT_OF_SOLVES) {
    best->end = CAVUM_OPTIMUM_INFEASIBLE;
  }
  return CAVUM_OK;
}

// What a stopped search came to: the shape of the last pass, with margins of that very shape;
// before the first one the nominal best shape, without any.
static cavum_status end_stopped(cavum_search *best, cavum_goal *goal, cavum_optimum_robust *robust,
                                const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options own;
  cavum_status status = CAVUM_OK;
  goal->is_robust = robust->num_passes > 0;
  if (!goal->is_robust) {
    goal->is_apart = false;
    *robust = (cavum_optimum_robust){.kind = CAVUM_ROBUST_NONE};
    return CAVUM_ERR_STOPPED;
  }
  cavum_optimum_solving_never_stop(best->solving);
  CAVUM_TRY(cavum_solve_options_take(&own, options, error));
  own.stop = NULL;
  CAVUM_TRY(settle(best, goal, &own, error));
  best->end = CAVUM_OPTIMUM_STOPPED;
  status = CAVUM_ERR_STOPPED;
done:
  return status;
}

cavum_status cavum_robust_search(cavum_search *best, cavum_goal *goal, cavum_optimum_robust *robust,
                                 char broken[CAVUM_OPTIMUM_BROKEN_SIZE],
                                 const cavum_solve_options *options, cavum_error *error) {
  double change = 0.0;
  cavum_status status = CAVUM_OK;
  bool goes_on = true;
  const cavum_optimum_solving *solving = best->solving;
  int before = solving->num_solves;
  *robust = (cavum_optimum_robust){
      .kind = goal->robust, .deviations = goal->deviations, .nominal = best->objective};
  CAVUM_TRY(solve_apart(best, goal, error));
  for (int pass = 0; pass < MOST_PASSES && goes_on; pass++) {
    CAVUM_TRY(fit_margins(&change, goal, best, options, error));
    goal->is_robust = true;
    if (pass == 0) CAVUM_TRY(judge_nominal(robust, broken, best, error));
    CAVUM_TRY(search_on(best, &robust->num_passes, error));
    bool met = best->end == CAVUM_OPTIMUM_CONVERGED;
    // The conditions hold with margins and slopes of this very shape.
    if (met && pass > 0 && change <= MET && best->num_steps == 1) goto done;
    // One that stalled may have done so on slopes of margins that were those of another shape.
    goes_on = met || (best->end == CAVUM_OPTIMUM_STALLED && best->num_steps > 1);
  }
  if (best->end == CAVUM_OPTIMUM_CONVERGED) best->end = CAVUM_OPTIMUM_STALLED;
  CAVUM_TRY(settle(best, goal, options, error));
done:
  if (status == CAVUM_ERR_STOPPED) status = end_stopped(best, goal, robust, options, error);
  robust->num_solves = solving->num_solves - before;
  if (status == CAVUM_OK || status == CAVUM_ERR_STOPPED)
    robust->whole_peaks = list_whole_peaks(best);
  return status;
}
