// SPDX-License-Identifier: GPL-3.0-or-later
// The best cell as a file, its figures, and what the limits cost.
#include "optimum/outcome.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/cell_text.h"
#include "cell/cell_edit.h"
#include "optimum/point.h"
#include "optimum/rates.h"
#include "optimum/rounding.h"
#include "solve/options.h"
#include "yaml/writer.h"

// The text of the base cell with other values of its inputs.
static cavum_status write_cell(char **text, const cavum_study *study, const double *values,
                               cavum_error *error) {
  char number[CAVUM_WRITER_NUMBER_SIZE];
  char *made = cavum_copy_text(study->cell.text);
  if (!made) return cavum_fail_memory(error);
  for (int i = 0; i < study->num_inputs; i++) {
    char *edited = NULL;
    cavum_writer_number_text(number, values[i], CAVUM_UNIT_SI);
    cavum_status status = cavum_cell_edit_number(&edited, &study->cell, made,
                                                 study->inputs[i].place.name, number, error);
    free(made);
    if (status != CAVUM_OK) return status;
    made = edited;
  }
  *text = made;
  return CAVUM_OK;
}

// Solves a cell with all its figures; what did not reach its accuracy is a result as well.
static cavum_status solve(cavum_result **result, const cavum_cell *cell, const cavum_study *study,
                          const cavum_solve_options *options, cavum_error *error) {
  cavum_solve_options own;
  cavum_status status = cavum_solve_options_take(&own, options, error);
  if (status != CAVUM_OK) return status;
  own.coupling = study->coupling;
  own.coupling_of_inner_cell = study->coupling_of_inner_cell;
  status = cavum_solve(result, cell, &own, error);
  return status == CAVUM_ERR_NOT_CONVERGED && *result ? CAVUM_OK : status;
}

// What a cell file begins with that is not proven to be the best. One of an earlier search, whose
// cell this one started from, goes.
static const char LABEL[] = "# cavum optimise: NO";

static cavum_status label_cell(char **text, const cavum_optimum *made, cavum_error *error) {
  char label[256 + CAVUM_OPTIMUM_BROKEN_SIZE] = "";
  const char *rest = *text;
  while (strncmp(rest, LABEL, sizeof LABEL - 1) == 0) {
    const char *end = strchr(rest, '\n');
    rest = end ? end + 1 : rest + strlen(rest);
  }
  if (!made->within_limits) {
    const char *why = made->end == CAVUM_OPTIMUM_OUT_OF_SOLVES ? "out of solves, "
                      : made->end == CAVUM_OPTIMUM_STOPPED     ? "stopped, "
                                                               : "";
    snprintf(label, sizeof label, "%s BEST SHAPE: %slimits broken: %s\n", LABEL, why, made->broken);
  } else if (!made->met || made->end == CAVUM_OPTIMUM_STOPPED) {
    snprintf(label, sizeof label,
             "%sT PROVEN BEST: %s, first-order conditions met to %.2g, limits to %.2g%s%s\n", LABEL,
             cavum_optimum_end_word(made->end), made->residual, made->violation,
             made->unproven[0] ? ": " : "", made->unproven);
  } else if (made->not_rounded) {
    snprintf(label, sizeof label,
             "%sT ROUNDED: no way that was tried of rounding to the steps keeps the limits%s%s; "
             "these are the dimensions of the best shape before rounding\n",
             LABEL, made->rounding_broken[0] ? "; in the best of them " : "",
             made->rounding_broken);
  } else if (rest == *text) {
    return CAVUM_OK;
  }
  size_t size = strlen(label) + strlen(rest) + 1;
  char *labelled = cavum_alloc((int64_t)size, 1);
  if (!labelled) return cavum_fail_memory(error);
  snprintf(labelled, size, "%s%s", label, rest);
  free(*text);
  *text = labelled;
  return CAVUM_OK;
}

static cavum_status label_cells(cavum_optimum *made, cavum_error *error) {
  cavum_status status = label_cell(&made->cell_text, made, error);
  for (int c = 0; c < made->num_others && status == CAVUM_OK; c++) {
    status = label_cell(&made->others[c].cell_text, made, error);
  }
  return status;
}

static cavum_status solve_best(char **text, cavum_result **result, const cavum_study *study,
                               const double *values, const cavum_solve_options *options,
                               cavum_error *error) {
  cavum_cell cell;
  cavum_status status = write_cell(text, study, values, error);
  if (status != CAVUM_OK) return status;
  status = cavum_cell_read_text(&cell, *text, strlen(*text), study->cell_path, error);
  if (status != CAVUM_OK) return status;
  status = solve(result, &cell, study, options, error);
  cavum_cell_clear(&cell);
  return status;
}

// The base cell need not be a shape with this mode.
static cavum_status solve_before(cavum_result **result, const cavum_study *study,
                                 const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = solve(result, &study->cell, study, options, NULL);
  if (status != CAVUM_ERR_MEMORY && status != CAVUM_ERR_STOPPED) return CAVUM_OK;
  return cavum_fail(error, status, "the base cell was not solved");
}

// The other cells at the best shape.
static cavum_status fill_others(cavum_optimum *made, const cavum_goal *goal, const double *values,
                                const cavum_solve_options *options, cavum_error *error) {
  made->others = cavum_alloc(goal->num_cells - 1, sizeof *made->others);
  if (!made->others) return cavum_fail_memory(error);
  made->num_others = goal->num_cells - 1;
  for (int c = 1; c < goal->num_cells; c++) {
    cavum_optimum_cell *other = &made->others[c - 1];
    const cavum_study *study = goal->cells[c].study;
    snprintf(other->name, sizeof other->name, "%s", goal->cells[c].name);
    other->mode = study->mode;
    cavum_status status =
        solve_best(&other->cell_text, &other->result, study, values, options, error);
    if (status == CAVUM_OK) status = solve_before(&other->before, study, options, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

static void fill_variables(cavum_optimum *made, const cavum_search *search, const double *values) {
  const cavum_goal *goal = search->solving->goal;
  for (int j = 0; j < goal->num_variables; j++) {
    cavum_optimum_variable *v = &made->variables[j];
    double range = goal->high[j] - goal->low[j], at = search->here->place[j];
    *v = (cavum_optimum_variable){
        .unit = cavum_unit_symbol(cavum_unit_of_key(goal->study->inputs[j].place.name)),
        .low = goal->low[j],
        .high = goal->high[j],
        .step = goal->step[j],
        .before = goal->study->inputs[j].place.base,
        .value = values[j],
        .is_held = j == goal->study->hold.input};
    snprintf(v->key, sizeof v->key, "%s", goal->study->inputs[j].place.name);
    v->at_bound = at <= 0.0 ? -1 : at >= 1.0 ? 1 : 0;
    double multiplier = v->at_bound < 0   ? search->low_multiplier[j]
                        : v->at_bound > 0 ? search->high_multiplier[j]
                                          : 0.0;
    v->multiplier = multiplier / range;
  }
}

int cavum_outcome_side(double least, double most, double room, double tolerance) {
  double multiplier = fmax(least, most);
  if (!(multiplier > 0.0) || cavum_rows_is_far(room, tolerance)) return 0;
  if (multiplier < tolerance && room > tolerance) return 0;
  return most > least ? 1 : -1;
}

// Room to the limit on the side of the larger multiplier, relative to the limit.
static double room_of(const cavum_goal_quantity *q, double figure, double least, double most) {
  double sign = most > least ? 1.0 : -1.0, limit = cavum_rows_limit(q, sign);
  return sign * (limit - figure) * fabs(cavum_rows_scale(q, limit, sign));
}

static void fill_limits(cavum_optimum *made, const cavum_search *search, const cavum_search *last) {
  const cavum_goal *goal = search->solving->goal;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    cavum_optimum_limit *limit = &made->limits[i - goal->num_terms];
    const cavum_goal_quantity *q = &goal->quantities[i];
    const cavum_optimum_value *v = &last->here->values[i];
    double least = search->limit_multiplier[i][0], most = search->limit_multiplier[i][1];
    limit->what = q->what;
    limit->value = v->figure / q->what.unit_si;
    limit->uncertainty = v->uncertainty / q->what.unit_si;
    limit->margin = v->margin / q->what.unit_si;
    if (!made->met) {
      limit->broken_by = cavum_rows_broken_by(goal, last->here, i) / q->what.unit_si;
    }
    // Of a value that is held exactly: how it had better change.
    double room = q->what.least == q->what.most ? 0.0 : room_of(q, v->figure, least, most);
    limit->active = cavum_outcome_side(least, most, room, goal->tolerance);
    double scale = limit->active < 0   ? fabs(cavum_rows_scale(q, cavum_rows_limit(q, -1.0), -1.0))
                   : limit->active > 0 ? fabs(cavum_rows_scale(q, cavum_rows_limit(q, 1.0), 1.0))
                                       : 0.0;
    limit->multiplier = fabs(most - least) * scale * q->what.unit_si;
  }
}

static void fill_terms(cavum_optimum *made, const cavum_search *search) {
  const cavum_goal *goal = search->solving->goal;
  for (int i = 0; i < goal->num_terms; i++) {
    cavum_optimum_term *term = &made->terms[i];
    const cavum_goal_quantity *q = &goal->quantities[i];
    const cavum_optimum_value *v = &search->here->values[i];
    const cavum_study *study = cavum_goal_study_of(goal, q);
    const cavum_result *before = q->cell > 0 ? made->others[q->cell - 1].before : made->before;
    *term = (cavum_optimum_term){.what = q->what,
                                 .weight = q->weight,
                                 .before = NAN,
                                 .value = v->figure,
                                 .uncertainty = v->uncertainty};
    if (!before) continue;
    cavum_figure figure = cavum_requirement_figure(&q->what, &study->cell, before, study->mode);
    if (figure.state == CAVUM_FIGURE_PRESENT) term->before = figure.value;
  }
}

static cavum_status fill_steps(cavum_optimum *made, const cavum_search *search,
                               cavum_error *error) {
  const cavum_goal *goal = search->solving->goal;
  double values[CAVUM_STUDY_MOST_INPUTS];
  for (int k = 0; k < search->num_steps; k++) {
    const cavum_search_step *from = &search->steps[k];
    cavum_optimum_step *to = &made->steps[k];
    *to = (cavum_optimum_step){.objective = from->objective,
                               .violation = from->violation,
                               .residual = from->residual,
                               .radius = from->radius,
                               .accepted = from->accepted,
                               .values = cavum_alloc(goal->num_variables, sizeof(double))};
    if (!to->values) return cavum_fail_memory(error);
    made->num_steps = k + 1;
    cavum_optimum_inputs(values, goal, from->place);
    memcpy(to->values, values, (size_t)goal->num_variables * sizeof *values);
  }
  return CAVUM_OK;
}

static bool allocate(cavum_optimum *made, const cavum_search *search) {
  const cavum_goal *goal = search->solving->goal;
  made->num_variables = goal->num_variables;
  made->num_terms = goal->num_terms;
  made->num_limits = goal->num_quantities - goal->num_terms;
  made->variables = cavum_alloc(made->num_variables, sizeof *made->variables);
  made->terms = cavum_alloc(made->num_terms, sizeof *made->terms);
  made->limits = cavum_alloc(made->num_limits, sizeof *made->limits);
  made->steps = cavum_alloc(search->num_steps, sizeof *made->steps);
  return made->variables && made->terms && made->limits && made->steps;
}

// Inputs at a point; those that are rounded as the workshop has them.
static void take_values(double *values, const cavum_search *search, bool rounded) {
  const cavum_goal *goal = search->solving->goal;
  cavum_optimum_inputs(values, goal, search->here->place);
  for (int j = 0; j < goal->num_variables && rounded; j++) {
    if (goal->step[j] > 0.0) values[j] = cavum_rounding_value(values[j], goal->step[j]);
  }
  cavum_study_link(values, goal->study);
}

// Why a shape within the limits is not proven to be the best.
static cavum_status tell_unproven(cavum_optimum *made, const cavum_search *exact,
                                  const cavum_search *last, cavum_error *error) {
  const cavum_goal *goal = exact->solving->goal;
  const cavum_search *of_limits = exact->end == CAVUM_OPTIMUM_CONVERGED ? last : exact;
  char vanishes[CAVUM_VANISHING_SIZE], slopes[96] = "", limits[128];
  if (made->met || !made->within_limits) return CAVUM_OK;
  cavum_status status =
      cavum_optimum_find_vanishing(&made->vanishing, goal, exact->here->place, error);
  if (status != CAVUM_OK) return status;
  cavum_vanishing_tell(vanishes, &made->vanishing);
  if (!vanishes[0] && !(exact->residual <= goal->tolerance)) {
    snprintf(slopes, sizeof slopes, "first-order conditions are met to %.2g (%.2g is asked for)",
             exact->residual, goal->tolerance);
  }
  cavum_rows_tell_unmet(limits, sizeof limits, goal, of_limits->here);
  const char *const texts[] = {vanishes, slopes, limits};
  for (int k = 0; k < 3; k++) {
    size_t length = strlen(made->unproven);
    if (!texts[k][0]) continue;
    snprintf(made->unproven + length, sizeof made->unproven - length, "%s%s", length ? "; " : "",
             texts[k]);
  }
  return CAVUM_OK;
}

cavum_status cavum_outcome_make(cavum_optimum **optimum, const cavum_search *exact,
                                const cavum_search *last, const cavum_outcome_notes *notes,
                                const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_goal *goal = exact->solving->goal;
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_optimum *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  if (!allocate(made, exact)) CAVUM_TRY(cavum_fail_memory(error));
  made->met = exact->end == CAVUM_OPTIMUM_CONVERGED && last->end == CAVUM_OPTIMUM_CONVERGED;
  made->end = exact->end == CAVUM_OPTIMUM_CONVERGED ? last->end : exact->end;
  made->within_limits = cavum_rows_violation_in_accuracies(goal, last->here) <= 1.0;
  if (notes->stopped) made->end = CAVUM_OPTIMUM_STOPPED;
  made->not_rounded = notes->not_rounded;
  made->rounding_violation = notes->rounding_violation;
  snprintf(made->rounding_broken, sizeof made->rounding_broken, "%s", notes->rounding_broken);
  snprintf(made->nominal_broken, sizeof made->nominal_broken, "%s", notes->nominal_broken);
  cavum_rows_tell_broken(made->broken, goal, last->here);
  CAVUM_TRY(cavum_search_count_left_out(&made->num_left_out, last, error));
  CAVUM_TRY(tell_unproven(made, exact, last, error));
  made->mode = goal->study->mode;
  made->objective = last->objective;
  made->objective_exact = exact->objective;
  made->objective_uncertainty = cavum_rows_objective_uncertainty(goal, last->here);
  made->residual = exact->residual;
  made->violation = last->violation;
  take_values(values, last, last != exact);
  CAVUM_TRY(solve_best(&made->cell_text, &made->result, goal->study, values, options, error));
  CAVUM_TRY(solve_before(&made->before, goal->study, options, error));
  CAVUM_TRY(fill_others(made, goal, values, options, error));
  CAVUM_TRY(label_cells(made, error));
  fill_variables(made, exact, values);
  fill_limits(made, exact, last);
  fill_terms(made, last);
  CAVUM_TRY(fill_steps(made, exact, error));
  *optimum = made;
  made = NULL;
done:
  cavum_optimum_destroy(&made);
  return status;
}
