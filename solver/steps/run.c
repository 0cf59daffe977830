// SPDX-License-Identifier: GPL-3.0-or-later
// A chain both ways: forwards from the drawing, then what was measured, then aims.
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "steps/chain.h"
#include "steps/condition.h"
#include "steps/contradiction.h"
#include "steps/forward.h"
#include "steps/next_amount.h"
#include "yaml/tree.h"

// A drawing of no stated uncertainty: the first measurement says what the cell is. In parts of the
// frequency, far above any error of forming.
static const double UNSTATED_DRAWING = 0.01;
// No forming, trimming or treatment moves a cell as far from what is computed, in parts of it: what
// was measured is in another unit, has a digit too many, or is another mode.
static const double FARTHEST_MEASURED = 0.1;
// A target may be farther away, and what would lead to it is said to be no step: but no slip of a
// digit or a unit is as near as this.
static const double FARTHEST_TARGET = 0.5;
// Normal: 95 % are within so many standard deviations.
static const double COVERAGE = 1.959964;

void cavum_steps_result_destroy(cavum_steps_result **result) {
  if (!result || !*result) return;
  for (int i = 0; (*result)->steps && i < (*result)->num_steps; i++) free((*result)->steps[i]);
  for (int i = 0; i < (*result)->num_sources; i++) free((*result)->sources[i]);
  free((*result)->steps);
  free((*result)->sources);
  free((*result)->sensitivity_hz);
  free((*result)->zero_sensitivity_hz);
  free((*result)->pi_sensitivity_hz);
  free((*result)->title);
  free(*result);
  *result = NULL;
}

static void leave_unsaid(cavum_step *step) {
  step->measured_hz = step->measured_uncertainty_hz = step->estimate_hz = NAN;
  step->amount = step->amount_uncertainty = step->slope_hz_per_m = NAN;
  step->next_amount = step->next_amount_uncertainty = NAN;
  step->found_amount = step->found_amount_uncertainty = NAN;
  step->zero_hz = step->pi_hz = step->zero_uncertainty_hz = step->pi_uncertainty_hz = NAN;
  step->zero_aim_hz = step->pi_aim_hz = step->zero_expected_hz = step->pi_expected_hz = NAN;
  step->zero_expected_uncertainty_hz = step->pi_expected_uncertainty_hz = NAN;
  step->measured_zero_hz = step->measured_pi_hz = step->coupling = NAN;
}

static void name_step(cavum_step *step, const cavum_chain_step *from) {
  step->kind = from->kind;
  memcpy(step->name, from->name, sizeof step->name);
  memcpy(step->what, from->what, sizeof step->what);
  step->measured_hz = from->measured_hz.value;
  step->measured_uncertainty_hz = from->measured_hz.uncertainty;
  step->measured_zero_hz = from->measured_zero_hz;
  step->uncertainty_not_stated = from->uncertainty_not_stated;
  step->measured_pi_hz = from->measured_pi_hz;
}

// What the frequency of the drawing is that of.
static void describe_drawing(char what[CAVUM_STEP_LINE_SIZE], const cavum_steps *steps) {
  double equator_mm = cavum_in_mm(steps->equator_allowance_m);
  double iris_mm = cavum_in_mm(steps->iris_allowance_m);
  if (equator_mm == 0.0 && iris_mm == 0.0) {
    snprintf(what, CAVUM_STEP_LINE_SIZE, "the cell as drawn, in vacuum");
  } else if (iris_mm == 0.0 || equator_mm == 0.0) {
    snprintf(what, CAVUM_STEP_LINE_SIZE,
             "the cell as drawn with an allowance of %.5g mm on each side at the %s, in vacuum",
             equator_mm + iris_mm, iris_mm == 0.0 ? "equator" : "iris");
  } else {
    snprintf(what, CAVUM_STEP_LINE_SIZE,
             "the cell as drawn with allowances on each side of %.5g mm at the equator and %.5g mm "
             "at the iris, in vacuum",
             equator_mm, iris_mm);
  }
}

static cavum_status make_steps(cavum_steps_result *result, const cavum_steps *steps,
                               cavum_error *error) {
  result->steps = cavum_alloc(steps->num_steps + 1, sizeof(cavum_step *));
  if (!result->steps) return cavum_fail_memory(error);
  for (int i = 0; i <= steps->num_steps; i++) {
    result->steps[i] = cavum_alloc(1, sizeof(cavum_step));
    if (!result->steps[i]) return cavum_fail_memory(error);
    result->num_steps = i + 1;
    leave_unsaid(result->steps[i]);
    if (i > 0) {
      name_step(result->steps[i], &steps->steps[i - 1]);
      continue;
    }
    snprintf(result->steps[0]->name, CAVUM_STEP_NAME_SIZE, "drawing");
    describe_drawing(result->steps[0]->what, steps);
    result->steps[0]->uncertainty_not_stated = !steps->drawing_uncertainty_stated;
  }
  return CAVUM_OK;
}

// A path that more than its own file was read for is a wall as it was measured.
static bool is_measured_wall(const cavum_cell *cell) {
  return cell->kind == CAVUM_CONTOUR_PATH && cell->files.num_paths > 1;
}

// Names as many steps as there is room for.
static void tell_not_stated(cavum_steps_result *result, const cavum_steps *steps) {
  enum { ROOM_FOR_MORE = 32 };
  char *text = result->not_stated;
  size_t length = 0, most = sizeof result->not_stated - ROOM_FOR_MORE;
  int left = 0;
  for (int i = 0; i < result->num_steps; i++) {
    char name[CAVUM_STEP_NAME_SIZE + 24];
    const cavum_step *step = result->steps[i];
    if (!step->uncertainty_not_stated) continue;
    snprintf(name, sizeof name, "%s%s", step->name,
             i == 0 && is_measured_wall(&steps->cell) ? " (a measured wall)" : "");
    const char *before = length > 0 ? ", " : "Uncertainty not stated, taken as 0: ";
    if (left > 0 || length + strlen(before) + strlen(name) >= most) {
      left++;
      continue;
    }
    length += (size_t)snprintf(text + length, most - length, "%s%s", before, name);
  }
  if (left > 0) snprintf(text + length, ROOM_FOR_MORE, ", and %d more", left);
}

/** Measurements and what they say. */
typedef struct knowledge {
  cavum_condition condition;  // sources of the result, then the drawing where it is not stated
  double *rows;               // shape [num_steps, count]
  double *pair_rows[2];       // the same of the halves between plates; NULL: none
  double *row;                // shape [count]
} knowledge;

static double *pair_hz(cavum_step *step, int mode) {
  return mode == 0 ? &step->zero_hz : &step->pi_hz;
}

// Sensitivities behind a step, and that to a drawing of which nothing is stated.
static void fill_row(double *row, const double *sensitivity_hz, int step, int count,
                     double drawing_hz) {
  for (int s = 0; s < count - 1; s++) row[s] = sensitivity_hz[step * (count - 1) + s];
  row[count - 1] = drawing_hz;
}

static cavum_status start_knowledge(knowledge *k, const cavum_steps_result *result, bool stated,
                                    cavum_error *error) {
  int n = result->num_sources + 1, steps = result->num_steps;
  k->condition.count = n;
  k->condition.mean = cavum_alloc(n, sizeof(double));
  k->condition.covariance = cavum_alloc((int64_t)n * n, sizeof(double));
  k->condition.work = cavum_alloc(n, sizeof(double));
  k->rows = cavum_alloc((int64_t)n * steps, sizeof(double));
  k->row = cavum_alloc(n, sizeof(double));
  if (!k->condition.mean || !k->condition.covariance || !k->condition.work || !k->rows || !k->row) {
    return cavum_fail_memory(error);
  }
  for (int m = 0; result->zero_sensitivity_hz && m < 2; m++) {
    k->pair_rows[m] = cavum_alloc((int64_t)n * steps, sizeof(double));
    if (!k->pair_rows[m]) return cavum_fail_memory(error);
  }
  for (int i = 0; i < steps; i++) {
    double drawing = stated ? 0.0 : UNSTATED_DRAWING;
    fill_row(k->rows + (size_t)i * (size_t)n, result->sensitivity_hz, i, n,
             drawing * result->steps[i]->frequency_hz);
    for (int m = 0; result->zero_sensitivity_hz && m < 2; m++) {
      fill_row(k->pair_rows[m] + (size_t)i * (size_t)n,
               m == 0 ? result->zero_sensitivity_hz : result->pi_sensitivity_hz, i, n,
               drawing * *pair_hz(result->steps[i], m));
    }
  }
  cavum_condition_start(&k->condition);
  return CAVUM_OK;
}

static void end_knowledge(knowledge *k) {
  free(k->condition.mean);
  free(k->condition.covariance);
  free(k->condition.work);
  free(k->rows);
  free(k->row);
  free(k->pair_rows[0]);
  free(k->pair_rows[1]);
}

static double expected_at(const knowledge *k, const cavum_steps_result *result, int i) {
  return result->steps[i]->frequency_hz +
         cavum_condition_mean(&k->condition, k->rows + (size_t)i * (size_t)k->condition.count);
}

// By what is measured before step i: the frequency there that leads to the wanted one.
static void set_aim(const knowledge *k, cavum_steps_result *result, int i) {
  int n = k->condition.count, last = result->num_steps - 1;
  cavum_step *step = result->steps[i];
  step->aim_hz = step->aim_uncertainty_hz = step->tolerance_hz = NAN;
  if (isnan(result->target_hz)) return;
  double ratio = expected_at(k, result, i) / expected_at(k, result, last);
  for (int s = 0; s < n; s++) k->row[s] = ratio * k->rows[last * n + s] - k->rows[i * n + s];
  step->aim_hz = result->target_hz * ratio;
  step->aim_uncertainty_hz = sqrt(cavum_condition_variance(&k->condition, k->row));
  if (isnan(result->target_tolerance_hz)) return;
  double all = ratio * result->target_tolerance_hz, used = COVERAGE * step->aim_uncertainty_hz;
  step->tolerance_hz = used < all ? sqrt(all * all - used * used) : 0.0;
}

static double pair_expected(const knowledge *k, cavum_steps_result *result, int i, int mode) {
  return *pair_hz(result->steps[i], mode) +
         cavum_condition_mean(&k->condition,
                              k->pair_rows[mode] + (size_t)i * (size_t)k->condition.count);
}

// What the halves show when the cell is at its aim: lengths that are off are off alike.
static void set_pair_aim(const knowledge *k, cavum_steps_result *result, int i) {
  cavum_step *step = result->steps[i];
  if (!k->pair_rows[0] || isnan(step->aim_hz)) return;
  double ratio = step->aim_hz / expected_at(k, result, i);
  step->zero_aim_hz = ratio * pair_expected(k, result, i, 0);
  step->pi_aim_hz = ratio * pair_expected(k, result, i, 1);
}

static void measure(knowledge *k, const double *row, double off_hz, const cavum_step *step) {
  if (isnan(off_hz)) return;
  cavum_condition_measure(&k->condition, row, off_hz,
                          step->measured_uncertainty_hz * step->measured_uncertainty_hz);
}

static void take_measurement(knowledge *k, const cavum_step *step, int i) {
  size_t at = (size_t)i * (size_t)k->condition.count;
  measure(k, k->rows + at, step->measured_hz - step->frequency_hz, step);
  if (!k->pair_rows[0]) return;
  measure(k, k->pair_rows[0] + at, step->measured_zero_hz - step->zero_hz, step);
  measure(k, k->pair_rows[1] + at, step->measured_pi_hz - step->pi_hz, step);
}

static void set_expected(const knowledge *k, cavum_steps_result *result) {
  int n = k->condition.count;
  for (int i = 0; i < result->num_steps; i++) {
    result->steps[i]->expected_hz = expected_at(k, result, i);
    result->steps[i]->expected_uncertainty_hz =
        sqrt(cavum_condition_variance(&k->condition, k->rows + i * n));
    if (!k->pair_rows[0]) continue;
    result->steps[i]->zero_expected_hz = pair_expected(k, result, i, 0);
    result->steps[i]->pi_expected_hz = pair_expected(k, result, i, 1);
    result->steps[i]->zero_expected_uncertainty_hz =
        sqrt(cavum_condition_variance(&k->condition, k->pair_rows[0] + i * n));
    result->steps[i]->pi_expected_uncertainty_hz =
        sqrt(cavum_condition_variance(&k->condition, k->pair_rows[1] + i * n));
  }
  for (int s = 0; s < n - 1; s++) {
    result->sources[s]->found = k->condition.mean[s];
    result->sources[s]->found_uncertainty =
        sqrt(cavum_max(0.0, k->condition.covariance[s * n + s]));
  }
}

static int find_source(const cavum_steps_result *result, const char *name) {
  for (int s = 0; s < result->num_sources; s++) {
    if (strcmp(result->sources[s]->name, name) == 0) return s;
  }
  return -1;
}

// The last measured step; -1 without any.
static int last_measured(const cavum_steps_result *result) {
  int last = -1;
  for (int i = 0; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    bool measured =
        !isnan(step->measured_hz) || !isnan(step->measured_zero_hz) || !isnan(step->measured_pi_hz);
    if (measured) last = i;
  }
  return last;
}

// What a step that moves the wall must do for the target, and what one before a measurement did.
static void set_amounts(const knowledge *k, const cavum_steps *steps, cavum_steps_result *result) {
  int last = last_measured(result), end = result->num_steps - 1;
  const cavum_step *cold = result->steps[end];
  for (int i = 1; i < result->num_steps; i++) {
    cavum_step *step = result->steps[i];
    if (isnan(step->amount)) continue;
    double slope = step->slope_hz_per_m * cold->frequency_hz / step->frequency_hz;
    if (i > last && !isnan(result->target_hz) && slope != 0.0) {
      step->next_amount = step->amount + (result->target_hz - cold->expected_hz) / slope;
      step->next_amount_uncertainty = cold->expected_uncertainty_hz / fabs(slope);
    }
    const char *source = steps->steps[i - 1].source;
    int s = find_source(result, source[0] ? source : step->name);
    if (i > last || s < 0) continue;
    // Sensitivities have the sign of the slope: so does what is found.
    double way = step->slope_hz_per_m > 0.0 ? 1.0 : -1.0;
    double sign = way * (result->sensitivity_hz[i * result->num_sources + s] > 0.0 ? 1.0 : -1.0);
    step->found_amount = step->amount + sign * k->condition.mean[s] * step->amount_uncertainty;
    step->found_amount_uncertainty =
        result->sources[s]->found_uncertainty * step->amount_uncertainty;
  }
}

static cavum_status go_backward(cavum_steps_result *result, const cavum_steps *steps,
                                cavum_error *error) {
  knowledge k = {0};
  // Without any measurement the drawing is what it is.
  cavum_status status = start_knowledge(
      &k, result, steps->drawing_uncertainty_hz > 0.0 || last_measured(result) < 0, error);
  for (int i = 0; status == CAVUM_OK && i < result->num_steps; i++) {
    set_aim(&k, result, i);
    set_pair_aim(&k, result, i);
    take_measurement(&k, result->steps[i], i);
  }
  if (status == CAVUM_OK) {
    set_expected(&k, result);
    set_amounts(&k, steps, result);
  }
  end_knowledge(&k);
  return status;
}

static cavum_status check_one(const cavum_steps *steps, int i, const char *key, double measured_hz,
                              double computed_hz, cavum_error *error) {
  const cavum_chain_step *step = &steps->steps[i - 1];
  if (!(fabs(measured_hz - computed_hz) > FARTHEST_MEASURED * computed_hz)) return CAVUM_OK;
  return cavum_yaml_tree_fail(error, CAVUM_ERR_INPUT, steps->path, step->line, step->column,
                              "%s: %s of %.10g MHz is %.3g times the %.7g MHz computed after this "
                              "step: a slip of units, a digit too many, or another mode?",
                              step->name, key, cavum_in_mhz(measured_hz), measured_hz / computed_hz,
                              cavum_in_mhz(computed_hz));
}

static cavum_status check_measured(const cavum_steps_result *result, const cavum_steps *steps,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 1; i < result->num_steps; i++) {
    const cavum_step *step = result->steps[i];
    CAVUM_TRY(check_one(steps, i, "measured_MHz", step->measured_hz, step->frequency_hz, error));
    CAVUM_TRY(
        check_one(steps, i, "measured_zero_MHz", step->measured_zero_hz, step->zero_hz, error));
    CAVUM_TRY(check_one(steps, i, "measured_pi_MHz", step->measured_pi_hz, step->pi_hz, error));
  }
done:
  return status;
}

// Stated changes, and those by a stated sensitivity, are small beside the frequency.
static cavum_status check_stated(const cavum_steps_result *result, const cavum_steps *steps,
                                 cavum_error *error) {
  for (int i = 1; i < result->num_steps; i++) {
    const cavum_chain_step *from = &steps->steps[i - 1];
    double before_hz = result->steps[i - 1]->frequency_hz, change_hz = result->steps[i]->change_hz;
    bool stated = from->kind == CAVUM_STEP_CHANGE || from->kind == CAVUM_STEP_ANNEAL ||
                  from->kind == CAVUM_STEP_PRESSURE || from->kind == CAVUM_STEP_LORENTZ;
    if (!stated || fabs(change_hz) <= FARTHEST_MEASURED * fabs(before_hz)) continue;
    return cavum_yaml_tree_fail(
        error, CAVUM_ERR_INPUT, steps->path, from->line, from->column,
        "%s: changes the frequency by %.5g MHz, %.3g %% of it, expected at most %g %%: a slip of "
        "units, or a digit too many?",
        from->name, cavum_in_mhz(change_hz),
        cavum_in_unit(change_hz / before_hz, CAVUM_UNIT_PERCENT),
        cavum_in_unit(FARTHEST_MEASURED, CAVUM_UNIT_PERCENT));
  }
  return CAVUM_OK;
}

// Amounts that would lead farther are no steps.
static cavum_status check_target(const cavum_steps_result *result, const cavum_steps *steps,
                                 cavum_error *error) {
  double computed_hz = result->steps[result->num_steps - 1]->frequency_hz;
  if (!(fabs(steps->target_hz - computed_hz) > FARTHEST_TARGET * computed_hz)) return CAVUM_OK;
  return cavum_yaml_tree_fail(
      error, CAVUM_ERR_INPUT, steps->path, steps->target_line, steps->target_column,
      "target: %.10g MHz is %.3g times the %.7g MHz computed after the last step: a slip of units, "
      "a digit too many, or another mode?",
      cavum_in_mhz(steps->target_hz), steps->target_hz / computed_hz, cavum_in_mhz(computed_hz));
}

// For the shape before each step.
static cavum_status make_room(cavum_cell **before, const cavum_steps *steps, cavum_error *error) {
  cavum_cell *made = cavum_alloc(steps->num_steps, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  for (int i = 0; i < steps->num_steps; i++) cavum_cell_set_defaults(&made[i]);
  *before = made;
  return CAVUM_OK;
}

cavum_status cavum_steps_run(cavum_steps_result **result, const cavum_steps *steps,
                             const cavum_solve_options *options, cavum_error *error) {
  if (!result || !steps) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_cell *before = NULL;
  cavum_steps_result *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->mode = steps->mode;
  made->target_hz = steps->target_hz;
  made->target_tolerance_hz = steps->target_tolerance_hz;
  made->title = cavum_copy_text(steps->title);
  if (!made->title) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(make_steps(made, steps, error));
  tell_not_stated(made, steps);
  CAVUM_TRY(make_room(&before, steps, error));
  CAVUM_TRY(cavum_steps_go_forward(before, made, steps, options, error));
  CAVUM_TRY(check_stated(made, steps, error));
  CAVUM_TRY(check_measured(made, steps, error));
  CAVUM_TRY(check_target(made, steps, error));
  CAVUM_TRY(go_backward(made, steps, error));
  CAVUM_TRY(cavum_steps_compare_measured(made, steps->drawing_uncertainty_hz > 0.0, error));
  CAVUM_TRY(cavum_steps_try_amounts(made, before, steps, error));
  *result = made;
  made = NULL;
done:
  for (int i = 0; before && i < steps->num_steps; i++) cavum_cell_clear(&before[i]);
  free(before);
  cavum_steps_result_destroy(&made);
  return status;
}
