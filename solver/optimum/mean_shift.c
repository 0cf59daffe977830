// SPDX-License-Identifier: GPL-3.0-or-later
// Second derivatives along the tolerances, from first ones of neighbours.
#include "optimum/mean_shift.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/base.h"
#include "cavum/geometry.h"
#include "design/correlation.h"
#include "design/trial.h"
#include "optimum/mean.h"
#include "optimum/mean_peak.h"
#include "optimum/rates.h"
#include "optimum/shape_spread.h"
#include "optimum/wall_places.h"

// Halves that agree are told apart by this part, as in point.c.
static const double APART = 1e-10;
enum { MOST = CAVUM_TOLERANCES_MOST };

/** A place whose neighbours are solved. */
typedef struct shifting {
  const cavum_goal *goal;
  const cavum_tolerances *tolerances;
  cavum_optimum_solving *solving;
  cavum_trial trial;
  double root[MOST * MOST];
  double column[MOST];        // the one that is followed, in standard deviations
  cavum_result *low, *high;   // owned: neighbours along it
  cavum_optimum_value *here;  // owned, shape [quantities]: peaks with their points
} shifting;

bool cavum_mean_shift_is_of(const cavum_goal_quantity *q) {
  bool exact = q->what.least == q->what.most && q->weight == 0.0;
  return q->cell == 0 && !exact && !q->is_default && q->what.kind != CAVUM_REQUIRE_K_CC;
}

static bool is_of_mode(const cavum_goal_quantity *q) {
  return cavum_mean_shift_is_of(q) && !cavum_optimum_is_of_shape(q);
}

// Says which tolerances lead from a shape to none, and where the mean was asked for.
static cavum_status fail_beside(const shifting *s, double columns, cavum_status status,
                                const cavum_error *why, cavum_error *error) {
  char moved[200] = "";
  size_t length = 0;
  for (int t = 0; t < s->tolerances->count && length < sizeof moved; t++) {
    const cavum_tolerance *of = &s->tolerances->list[t];
    double by = columns * s->column[t] * cavum_tolerance_deviation(of);
    if (by == 0.0) continue;
    length += (size_t)snprintf(moved + length, sizeof moved - length, "%s%s by %+.4g",
                               length > 0 ? ", " : "", of->key, by);
  }
  return cavum_fail(error, status,
                    "robust: no mean over the tolerances, since within them of the best shape, or "
                    "of one beside it, there is no shape (%s): %s",
                    moved, why->message);
}

// The cell so many columns away; halves that agree are told apart where places need it.
static cavum_status solve_beside(cavum_result **result, shifting *s, double columns,
                                 cavum_error *error) {
  double values[MOST];
  cavum_cell cell;
  bool owned = false;
  for (int t = 0; t < s->tolerances->count; t++) {
    double nominal = s->trial.dimensions[t].value;
    bool equal = s->goal->is_apart && cavum_trial_is_half_of_equal(&s->trial, t);
    double deviation = cavum_tolerance_deviation(&s->tolerances->list[t]);
    values[t] =
        nominal * (equal ? 1.0 + (t + 1) * APART : 1.0) + columns * s->column[t] * deviation;
  }
  cavum_error why = {0};
  cavum_status status = cavum_trial_make_cell(&cell, &owned, &s->trial, values, &why);
  // Outside of what a dimension may be.
  status = cavum_status_as(status, CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, &why);
  if (status == CAVUM_OK) {
    status = cavum_solver_solve(result, s->trial.solver, &cell, &why);
    s->solving->num_solves += *result != NULL;
    if (owned) cavum_cell_clear(&cell);
  }
  if (status == CAVUM_ERR_NOT_CONVERGED && *result) return CAVUM_OK;
  if (status == CAVUM_ERR_GEOMETRY && columns != 0.0) {
    return fail_beside(s, columns, status, &why, error);
  }
  if (status != CAVUM_OK && error) *error = why;
  return status;
}

// A peak point by point; no points where what tolerances do is not known so.
static cavum_status take_points(cavum_optimum_value *value, const shifting *s,
                                const cavum_goal_quantity *q, const cavum_result *result,
                                cavum_error *error) {
  const cavum_optimum_rates none = {0};
  int mode = s->goal->study->mode;
  if (mode >= result->num_modes) {
    return cavum_fail(error, CAVUM_ERR_INCOMPLETE, "mode %d was not found", mode + 1);
  }
  value->num_wall_points = result->modes[mode].wall.num_points;
  return cavum_wall_points_list(value, result, mode, cavum_goal_peak(q) == 0, &none, s->tolerances,
                                0, error);
}

// Changes of a figure by one standard deviation of each tolerance that the column has.
static cavum_status take_gradient(double *by, const shifting *s, const cavum_goal_quantity *q,
                                  const cavum_result *result, cavum_error *error) {
  for (int t = 0; t < s->tolerances->count; t++) {
    by[t] = 0.0;
    if (s->column[t] == 0.0) continue;
    cavum_status status = cavum_trial_derivative(&by[t], result, s->goal->study->mode,
                                                 q->what.figure, &s->trial.dimensions[t], error);
    if (status != CAVUM_OK) return status;
    by[t] *= cavum_tolerance_deviation(&s->tolerances->list[t]);
  }
  return CAVUM_OK;
}

static cavum_status bend_of_figure(double *bend, const shifting *s, const cavum_goal_quantity *q,
                                   cavum_error *error) {
  double low[MOST], high[MOST];
  cavum_status status = take_gradient(low, s, q, s->low, error);
  if (status == CAVUM_OK) status = take_gradient(high, s, q, s->high, error);
  if (status == CAVUM_OK) *bend += cavum_mean_bend(low, high, s->column, s->tolerances->count);
  return status;
}

static void changes_of(double *change, const cavum_optimum_wall_point *point, int count) {
  for (int t = 0; t < count; t++) change[t] = point->value * point->by[t];
}

// Each point of the wall by how often it is the peak. One that a neighbour does not have counts as
// straight.
static cavum_status bend_of_points(double *bend, const shifting *s, const cavum_optimum_value *here,
                                   const cavum_optimum_value *low, const cavum_optimum_value *high,
                                   cavum_error *error) {
  cavum_mean_peak peak;
  double below[MOST], above[MOST];
  int count = s->tolerances->count;
  cavum_status status = cavum_mean_peak_list(&peak, here, s->goal, error);
  if (status == CAVUM_OK) cavum_mean_peak_find(&peak, s->goal);
  for (int m = 0; m < peak.num_points && status == CAVUM_OK; m++) {
    const cavum_optimum_wall_point *k = cavum_mean_peak_match(here, low, peak.points[m]->index);
    const cavum_optimum_wall_point *l = cavum_mean_peak_match(here, high, peak.points[m]->index);
    if (peak.part[m] == 0.0 || !k || !l) continue;
    changes_of(below, k, count);
    changes_of(above, l, count);
    *bend += peak.part[m] * cavum_mean_bend(below, above, s->column, count);
  }
  cavum_mean_peak_clear(&peak);
  return status;
}

static cavum_status bend_of_peak(double *bend, const shifting *s, int quantity,
                                 cavum_error *error) {
  const cavum_goal_quantity *q = &s->goal->quantities[quantity];
  const cavum_optimum_value *here = &s->here[quantity];
  if (here->num_points == 0) return bend_of_figure(bend, s, q, error);
  cavum_optimum_value low = {0}, high = {0};
  cavum_status status = take_points(&low, s, q, s->low, error);
  if (status == CAVUM_OK) status = take_points(&high, s, q, s->high, error);
  if (status == CAVUM_OK) status = bend_of_points(bend, s, here, &low, &high, error);
  free(low.points);
  free(high.points);
  return status;
}

static cavum_status take_column(double *shift, shifting *s, int column, cavum_error *error) {
  int n = s->tolerances->count;
  bool any = false;
  for (int t = 0; t < n; t++) {
    s->column[t] = s->root[t * n + column];
    any = any || s->column[t] != 0.0;
  }
  if (!any) return CAVUM_OK;
  cavum_status status = solve_beside(&s->low, s, -1.0, error);
  if (status == CAVUM_OK) status = solve_beside(&s->high, s, 1.0, error);
  for (int i = 0; i < s->goal->num_quantities && status == CAVUM_OK; i++) {
    const cavum_goal_quantity *q = &s->goal->quantities[i];
    if (!is_of_mode(q)) continue;
    status = cavum_goal_peak(q) < 0 ? bend_of_figure(&shift[i], s, q, error)
                                    : bend_of_peak(&shift[i], s, i, error);
  }
  cavum_result_destroy(&s->low);
  cavum_result_destroy(&s->high);
  return status;
}

// The shape itself, for the points of its peaks.
static cavum_status take_here(shifting *s, cavum_error *error) {
  cavum_result *result = NULL;
  bool any = false;
  s->here = cavum_alloc(s->goal->num_quantities, sizeof *s->here);
  if (!s->here) return cavum_fail_memory(error);
  for (int i = 0; i < s->goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &s->goal->quantities[i];
    any = any || (is_of_mode(q) && cavum_goal_peak(q) >= 0);
  }
  if (!any) return CAVUM_OK;
  cavum_status status = solve_beside(&result, s, 0.0, error);
  for (int i = 0; i < s->goal->num_quantities && status == CAVUM_OK; i++) {
    const cavum_goal_quantity *q = &s->goal->quantities[i];
    if (!is_of_mode(q) || cavum_goal_peak(q) < 0) continue;
    status = take_points(&s->here[i], s, q, result, error);
  }
  cavum_result_destroy(&result);
  return status;
}

static cavum_status solve_columns(double *shift, shifting *s, const cavum_cell *cell,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int n = s->tolerances->count;
  CAVUM_TRY(cavum_trial_open(&s->trial, cell, &s->solving->cells[0].options, error));
  for (int t = 0; t < n; t++) {
    CAVUM_TRY(cavum_trial_add(&s->trial, s->tolerances->list[t].key, error));
  }
  CAVUM_TRY(take_here(s, error));
  for (int k = 0; k < n; k++) CAVUM_TRY(take_column(shift, s, k, error));
done:
  for (int i = 0; s->here && i < s->goal->num_quantities; i++) free(s->here[i].points);
  free(s->here);
  s->here = NULL;
  cavum_trial_clear(&s->trial);
  return status;
}

static cavum_status shift_cell(double *shift, shifting *s, const cavum_cell *cell,
                               cavum_error *error) {
  const cavum_goal *goal = s->goal;
  cavum_status status = CAVUM_OK;
  bool any = false;
  for (int i = 0; i < goal->num_quantities && status == CAVUM_OK; i++) {
    const cavum_goal_quantity *q = &goal->quantities[i];
    shift[i] = 0.0;
    any = any || is_of_mode(q);
    if (!cavum_mean_shift_is_of(q) || is_of_mode(q)) continue;
    int id = (int)q->what.kind - (int)CAVUM_REQUIRE_WALL_ANGLE;
    status = cavum_shape_mean_find(&shift[i], cell, s->tolerances, goal->mean_draws, s->root,
                                   (cavum_geometry_id)id, error);
  }
  return status == CAVUM_OK && any ? solve_columns(shift, s, cell, error) : status;
}

cavum_status cavum_mean_shift_find(double *shift, const cavum_goal *goal,
                                   cavum_optimum_solving *solving, const double *place,
                                   cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_cell cell;
  bool owned = false;
  shifting *s = cavum_alloc(1, sizeof *s);
  if (!s) return cavum_fail_memory(error);
  s->goal = goal;
  s->tolerances = goal->tolerances;
  s->solving = solving;
  cavum_status status = CAVUM_OK;
  if (!cavum_correlation_root(s->root, goal->tolerances->correlation, goal->tolerances->count)) {
    status = cavum_fail(error, CAVUM_ERR_INPUT, "no dimensions can be correlated like this");
  }
  cavum_optimum_inputs(values, goal, place);
  if (status == CAVUM_OK) {
    status = cavum_study_apply(&cell, &owned, goal->study, values, error);
    if (status == CAVUM_OK) status = shift_cell(shift, s, &cell, error);
  }
  if (owned) cavum_cell_clear(&cell);
  free(s);
  return status;
}
