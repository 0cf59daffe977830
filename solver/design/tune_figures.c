// SPDX-License-Identifier: GPL-3.0-or-later
// Dimensions of a cell for figures of a mode: solves with derivatives, one a step.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sized.h"
#include "base/units.h"
#include "cavum/tune.h"
#include "cell/arc_settle.h"
#include "cell/cell.h"
#include "design/requirements.h"
#include "design/trial.h"
#include "design/tune_step.h"

_Static_assert((int)CAVUM_TUNE_MOST == (int)CAVUM_TUNE_MOST_FIGURES &&
                   (int)CAVUM_TUNE_MOST == (int)CAVUM_TUNE_MOST_DIMENSIONS,
               "plans fit into tasks");

// Of a range: as near to its end counts as there. Of a target over what was found: another unit.
static const double OF_RANGE = 1e-6, OTHER_UNIT = 100.0;
// A step is at most this part of the scale of each dimension: derivatives tell no more.
static const double LONGEST_STEP = 0.3;
// The scale of a dimension is this part of what lies between its stated bounds at least: one that
// is 0 has no size of its own.
static const double OF_BOUNDS = 0.1;
// Halvings of one step to a shape: beyond it is shorter than a millionth. Halvings to smaller
// misses cost a solve each.
enum { MOST_HALVINGS = 20, MOST_WORSE = 6, MOST_SOLVES = 30 };
enum { REASON_SIZE = 420 };
// A step is good when it takes away this part of what the derivatives promise (Armijo's rule).
static const double GAIN = 0.1;
// What figures are met to where their uncertainty is less: rounding of the solves.
static const double ROUNDING = 1e-12;
// Figures of the shape, which are exact: far below what can be built, and numbers stay short.
static const double SHAPE_TOLERANCE = 1e-9;

static const cavum_sized SIZED = {.name = "tune plan",
                                  .maker = "cavum_tune_plan_default()",
                                  .first = offsetof(cavum_tune_plan, shape_aims),
                                  .full = sizeof(cavum_tune_plan)};

void cavum_tune_plan_set_defaults(cavum_tune_plan *plan, size_t struct_size) {
  const cavum_tune_plan defaults = {.most_solves = MOST_SOLVES};
  if (plan) cavum_sized_give(plan, struct_size, &defaults, &SIZED);
}

void cavum_tune_outcome_destroy(cavum_tune_outcome **outcome) {
  if (!outcome || !*outcome) return;
  if ((*outcome)->before == (*outcome)->after) (*outcome)->before = NULL;
  cavum_result_destroy(&(*outcome)->before);
  cavum_result_destroy(&(*outcome)->after);
  free((*outcome)->cell_text);
  free((*outcome)->values_before);
  free((*outcome)->values_after);
  free(*outcome);
  *outcome = NULL;
}

/** A solved shape. */
typedef struct shape {
  cavum_tune_point point;
  double tolerance[CAVUM_TUNE_MOST];  // of each figure
  cavum_result *result;               // owned
  char *text;                         // owned
  cavum_status solved;
  cavum_error what;  // of `solved`
} shape;

/** A tuning on its way. */
typedef struct tuning {
  cavum_tune_plan plan;
  cavum_trial trial;
  cavum_tune_task task;
  shape best;
  cavum_tune_point before;  // where the step to `best` came from
  bool has_before;
  cavum_result *first;  // owned: of the cell as given, once another is the best
  int num_solves, num_halved;
  cavum_error last;  // why the last shape that was tried is none
} tuning;

static void clear_shape(shape *s) {
  cavum_result_destroy(&s->result);
  free(s->text);
  *s = (shape){.solved = CAVUM_OK};
}

static int count_aims(const cavum_tune_plan *plan) { return plan->num_aims + plan->num_shape_aims; }

// Aims of both kinds are counted through: figures of the mode come first.
static const char *key_of_aim(const cavum_tune_plan *plan, int i) {
  if (i < plan->num_aims) return cavum_figure_describe(plan->aims[i].figure).key;
  return cavum_geometry_describe(plan->shape_aims[i - plan->num_aims].figure).key;
}

static double value_of_aim(const cavum_tune_plan *plan, int i) {
  return i < plan->num_aims ? plan->aims[i].value : plan->shape_aims[i - plan->num_aims].value;
}

static int number_of_aim(const cavum_tune_plan *plan, int i) {
  return i < plan->num_aims ? (int)plan->aims[i].figure
                            : (int)plan->shape_aims[i - plan->num_aims].figure;
}

static bool aim_exists(const cavum_tune_plan *plan, int i) {
  if (!isfinite(value_of_aim(plan, i))) return false;
  if (i < plan->num_aims) {
    return (int)plan->aims[i].figure >= 0 && plan->aims[i].figure < CAVUM_NUM_FIGURES;
  }
  cavum_geometry_id id = plan->shape_aims[i - plan->num_aims].figure;
  return (int)id >= 0 && id < CAVUM_NUM_GEOMETRY_FIGURES;
}

static bool is_never_negative(const cavum_tune_plan *plan, int i) {
  cavum_requirement r = {.kind = CAVUM_REQUIRE_FIGURE};
  if (i < plan->num_aims) {
    r.figure = plan->aims[i].figure;
    return !cavum_requirement_may_be_negative(&r);
  }
  return cavum_requirement_find(&r, key_of_aim(plan, i), NULL) == CAVUM_OK &&
         !cavum_requirement_may_be_negative(&r);
}

static cavum_status check_aims(const cavum_tune_plan *plan, cavum_error *error) {
  for (int i = 0; i < count_aims(plan); i++) {
    const char *key = key_of_aim(plan, i);
    if (!aim_exists(plan, i)) {
      return cavum_fail(
          error, CAVUM_ERR_USAGE,
          "tune: target %d is of figure %d and %g, expected a figure that there is and "
          "a number",
          i + 1, number_of_aim(plan, i), value_of_aim(plan, i));
    }
    if (value_of_aim(plan, i) < 0.0 && is_never_negative(plan, i)) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "tune: %s is never below 0", key);
    }
    for (int k = 0; k < i; k++) {
      if (strcmp(key, key_of_aim(plan, k)) != 0) continue;
      return cavum_fail(error, CAVUM_ERR_USAGE, "tune: %s is there twice", key);
    }
  }
  return CAVUM_OK;
}

static cavum_status check(const cavum_tune_plan *plan, const cavum_cell *cell, cavum_error *error) {
  int aims = count_aims(plan), dimensions = plan->num_dimensions;
  bool listed = plan->num_aims >= 0 && plan->num_shape_aims >= 0 && aims > 0 &&
                (plan->num_aims == 0 || plan->aims) &&
                (plan->num_shape_aims == 0 || plan->shape_aims);
  if (!listed || dimensions < 1 || !plan->dimensions || plan->most_solves < 1) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "tune: figures, dimensions and a number of solves were expected");
  }
  if (aims > dimensions || dimensions > CAVUM_TUNE_MOST) {
    return cavum_fail(
        error, CAVUM_ERR_USAGE,
        "tune: %d dimensions for %d figures, expected as many at least, and %d at most", dimensions,
        aims, (int)CAVUM_TUNE_MOST);
  }
  if (plan->mode < 0 || plan->mode >= cell->num_modes) {
    return cavum_fail(error, CAVUM_ERR_USAGE, "tune: mode %d, and the cell asks for %d mode%s",
                      plan->mode + 1, cell->num_modes, cell->num_modes > 1 ? "s" : "");
  }
  return check_aims(plan, error);
}

static double largest_alike(const cavum_trial *trial, const char *unit) {
  double most = 0.0;
  for (int j = 0; j < trial->num_dimensions; j++) {
    const cavum_cell_key_info *info = &trial->dimensions[j];
    if (strcmp(info->unit, unit) == 0) most = cavum_max(most, fabs(info->value));
  }
  return most > 0.0 ? most : 1.0;
}

static cavum_status set_bounds(cavum_tune_task *task, const tuning *t, int j, cavum_error *error) {
  const cavum_tune_dimension *wanted = &t->plan.dimensions[j];
  const cavum_cell_key_info *info = &t->trial.dimensions[j];
  double value = info->value, scale = task->scale[j];
  bool chosen = wanted->low == 0.0 && wanted->high == 0.0;
  bool small = fabs(value) < scale;
  double least = cavum_min(0.5 * value, 2.0 * value), most = cavum_max(0.5 * value, 2.0 * value);
  task->low[j] = chosen ? cavum_max(info->low, small ? value - scale : least) : wanted->low;
  task->high[j] = chosen ? cavum_min(info->high, small ? value + scale : most) : wanted->high;
  if (!chosen && !(task->low[j] < task->high[j])) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "tune %s from %g to %g: expected low < high",
                      wanted->key, task->low[j], task->high[j]);
  }
  if (!(task->low[j] < task->high[j]) || !(task->low[j] >= info->low) ||
      !(task->high[j] <= info->high)) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "tune %s from %g to %g: within %g to %g was expected",
                      wanted->key, task->low[j], task->high[j], info->low, info->high);
  }
  if (value >= task->low[j] && value <= task->high[j]) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "tune %s from %g to %g: it is %.9g now, out of this range", wanted->key,
                    task->low[j], task->high[j], value);
}

static cavum_status start_task(tuning *t, cavum_error *error) {
  cavum_tune_task *task = &t->task;
  task->num_figures = count_aims(&t->plan);
  task->num_dimensions = t->plan.num_dimensions;
  for (int i = 0; i < task->num_figures; i++) task->target[i] = value_of_aim(&t->plan, i);
  for (int j = 0; j < task->num_dimensions; j++) {
    const cavum_cell_key_info *info = &t->trial.dimensions[j];
    task->origin[j] = info->value;
    double stated = t->plan.dimensions[j].high - t->plan.dimensions[j].low;
    task->scale[j] = cavum_max(fabs(info->value), 0.1 * largest_alike(&t->trial, info->unit));
    task->scale[j] = cavum_max(task->scale[j], OF_BOUNDS * stated);
    cavum_status status = set_bounds(task, t, j, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Figures and derivatives of a result.
static cavum_status take_point(shape *s, const tuning *t, cavum_error *error) {
  const cavum_mode_result *mode = &s->result->modes[t->plan.mode];
  for (int i = 0; i < t->plan.num_aims; i++) {
    cavum_figure_id id = t->plan.aims[i].figure;
    cavum_figure figure = cavum_mode_figure(mode, id);
    if (figure.state == CAVUM_FIGURE_UNBOUNDED) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "mode %d: %s is unbounded, at a corner at z = %.6g mm, r = %.6g mm",
                        t->plan.mode + 1, cavum_figure_describe(id).key, cavum_in_mm(figure.at.z_m),
                        cavum_in_mm(figure.at.r_m));
    }
    if (figure.state != CAVUM_FIGURE_PRESENT) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "mode %d has no %s", t->plan.mode + 1,
                        cavum_figure_describe(id).key);
    }
    s->point.figure[i] = figure.value;
    s->tolerance[i] = cavum_max(figure.uncertainty, ROUNDING * fabs(figure.value));
    for (int j = 0; j < t->plan.num_dimensions; j++) {
      cavum_status status = cavum_trial_derivative(&s->point.slope[i][j], s->result, t->plan.mode,
                                                   id, &t->trial.dimensions[j], error);
      if (status != CAVUM_OK) return status;
    }
  }
  return CAVUM_OK;
}

// One figure of the shape and its derivatives.
static cavum_status take_shape_figure(shape *s, const tuning *t, const cavum_geometry *geometry,
                                      int i, cavum_error *error) {
  const int id = (int)t->plan.shape_aims[i - t->plan.num_aims].figure;
  if (isnan(geometry->value[id])) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "the cell has no %s", key_of_aim(&t->plan, i));
  }
  s->point.figure[i] = geometry->value[id];
  s->tolerance[i] =
      cavum_max(geometry->uncertainty[id], SHAPE_TOLERANCE * fabs(geometry->value[id]));
  for (int j = 0; j < t->plan.num_dimensions; j++) {
    cavum_status status = cavum_trial_shape_derivative(
        &s->point.slope[i][j], geometry, (cavum_geometry_id)id, &t->trial.dimensions[j], error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Figures of the shape itself, from the text that would be written.
static cavum_status take_shape_figures(shape *s, const tuning *t, cavum_error *error) {
  cavum_cell cell;
  cavum_geometry *geometry = NULL;
  if (t->plan.num_shape_aims == 0) return CAVUM_OK;
  cavum_status status = cavum_cell_read_text(&cell, s->text, strlen(s->text), t->plan.name, error);
  if (status != CAVUM_OK) return status;
  status = cavum_geometry_measure(&geometry, &cell, true, error);
  for (int i = t->plan.num_aims; i < count_aims(&t->plan) && status == CAVUM_OK; i++) {
    status = take_shape_figure(s, t, geometry, i, error);
  }
  cavum_geometry_destroy(&geometry);
  cavum_cell_clear(&cell);
  return status;
}

// Solves a shape; `s` owns what it got, also where it fails.
static cavum_status solve(shape *s, tuning *t, const double *values, cavum_error *error) {
  cavum_error what = {0};
  memcpy(s->point.x, values, (size_t)t->plan.num_dimensions * sizeof *values);
  cavum_status status = cavum_trial_solve(&s->result, &s->text, &t->trial, values, &what);
  if (s->result) {
    t->num_solves++;
    s->solved = status;
    s->what = what;
    if (s->result->num_modes > t->plan.mode) {
      status = take_point(s, t, error);
      return status == CAVUM_OK ? take_shape_figures(s, t, error) : status;
    }
    status = cavum_fail(&what, CAVUM_ERR_INCOMPLETE, "mode %d was not found", t->plan.mode + 1);
  }
  if (error) *error = what;
  return status;
}

// What no other values of the dimensions would mend.
static bool is_final(cavum_status status) {
  return status == CAVUM_ERR_MEMORY || status == CAVUM_ERR_STOPPED ||
         status == CAVUM_ERR_INTERNAL || status == CAVUM_ERR_USAGE || status == CAVUM_ERR_FILE;
}

// Whether a figure of a shape is what was asked for, to its uncertainty.
static bool meets(const shape *s, const tuning *t, int figure) {
  return fabs(s->point.figure[figure] - t->task.target[figure]) <= s->tolerance[figure];
}

static bool is_met(const tuning *t) {
  for (int i = 0; i < t->task.num_figures; i++) {
    if (!meets(&t->best, t, i)) return false;
  }
  return true;
}

// Values with as few decimals as the figures tell apart: a twentieth of what moves one by its
// tolerance, shared among the dimensions. Bounds are kept.
static void round_values(double *values, const tuning *t) {
  const shape *s = &t->best;
  int num = t->task.num_dimensions;
  for (int j = 0; j < num; j++) {
    double step = HUGE_VAL;
    for (int i = 0; i < t->task.num_figures; i++) {
      double slope = fabs(s->point.slope[i][j]);
      if (slope > 0.0) step = cavum_min(step, 0.05 * s->tolerance[i] / slope / num);
    }
    double least = 1e-15 * cavum_max(fabs(values[j]), t->task.scale[j]);
    if (!isfinite(step) || !(step > least)) continue;
    double power = pow(10.0, -floor(log10(step))), rounded = round(values[j] * power) / power;
    if (rounded >= t->task.low[j] && rounded <= t->task.high[j]) values[j] = rounded;
  }
}

// Shortens a step to what derivatives tell, and at the bounds; the part of it that is left.
static double limit_step(double *next, const tuning *t) {
  const double *x = t->best.point.x;
  double longest = 0.0;
  for (int j = 0; j < t->task.num_dimensions; j++) {
    longest = cavum_max(longest, fabs(next[j] - x[j]) / t->task.scale[j]);
  }
  double part = longest > LONGEST_STEP ? LONGEST_STEP / longest : 1.0;
  for (int j = 0; j < t->task.num_dimensions; j++) {
    next[j] = x[j] + part * (next[j] - x[j]);
    next[j] = cavum_min(cavum_max(next[j], t->task.low[j]), t->task.high[j]);
  }
  return part;
}

static bool is_here(const tuning *t, const double *next) {
  return memcmp(next, t->best.point.x, (size_t)t->task.num_dimensions * sizeof *next) == 0;
}

static void accept(tuning *t, shape *found) {
  if (!t->has_before) {
    t->first = t->best.result;
    t->best.result = NULL;
  }
  t->before = t->best.point;
  t->has_before = true;
  clear_shape(&t->best);
  t->best = *found;
  *found = (shape){.solved = CAVUM_OK};
}

// What is missed, without what the uncertainty of a figure covers: of two figures, the noise of the
// less accurate one must not hide what is left of the other.
static double miss_of(const tuning *t, const shape *s) {
  double figure[CAVUM_TUNE_MOST];
  for (int i = 0; i < t->task.num_figures; i++) {
    figure[i] = meets(s, t, i) ? t->task.target[i] : s->point.figure[i];
  }
  return cavum_tune_miss(&t->task, figure);
}

// How much less is missed at the end of a step, as far as the derivatives tell: at the bounds they
// promise a part of it only. Not more than `part` of the miss.
static double promised(const tuning *t, const double *next, double part, double miss) {
  double figure[CAVUM_TUNE_MOST];
  const cavum_tune_point *here = &t->best.point;
  for (int i = 0; i < t->task.num_figures; i++) {
    figure[i] = here->figure[i];
    for (int j = 0; j < t->task.num_dimensions; j++) {
      figure[i] += here->slope[i][j] * (next[j] - here->x[j]);
    }
  }
  double less = miss - cavum_tune_miss(&t->task, figure);
  return cavum_min(part * miss, cavum_max(0.0, less));
}

// Tries a step and its halves until there is a shape with smaller misses; `moved` says whether
// there was one.
static cavum_status take_step(bool *moved, tuning *t, double *next, double part,
                              cavum_error *error) {
  double miss = miss_of(t, &t->best);
  int num_worse = 0;
  *moved = false;
  t->last = (cavum_error){0};
  for (int half = 0; half <= MOST_HALVINGS && t->num_solves < t->plan.most_solves; half++) {
    shape found = {.solved = CAVUM_OK};
    round_values(next, t);
    if (is_here(t, next)) return CAVUM_OK;
    cavum_status status = solve(&found, t, next, &t->last);
    if (is_final(status)) {
      clear_shape(&found);
      if (error) *error = t->last;
      return status;
    }
    *moved = status == CAVUM_OK && miss_of(t, &found) < miss - GAIN * promised(t, next, part, miss);
    num_worse += status == CAVUM_OK;
    if (*moved) accept(t, &found);
    clear_shape(&found);
    if (*moved || num_worse > MOST_WORSE) return CAVUM_OK;
    t->num_halved++;
    part *= 0.5;
    for (int j = 0; j < t->task.num_dimensions; j++) {
      next[j] = 0.5 * (next[j] + t->best.point.x[j]);
    }
  }
  return CAVUM_OK;
}

static cavum_status search(tuning *t, cavum_error *error) {
  while (!is_met(t) && t->num_solves < t->plan.most_solves) {
    double next[CAVUM_TUNE_MOST];
    bool moved = false;
    for (int i = 0; i < t->task.num_figures; i++) {
      double value = fabs(t->best.point.figure[i]);
      t->task.size[i] = cavum_max(cavum_max(fabs(t->task.target[i]), value), t->best.tolerance[i]);
    }
    (void)cavum_tune_step(next, &t->task, &t->best.point, t->has_before ? &t->before : NULL);
    double part = limit_step(next, t);
    cavum_status status = take_step(&moved, t, next, part, error);
    if (status != CAVUM_OK) return status;
    if (!moved) break;
  }
  return CAVUM_OK;
}

// The arcs of a path that a dimension moves an end or the centre of.
static void name_arcs(char arcs[CAVUM_ARC_NAMES_SIZE], const tuning *t, int dimension) {
  arcs[0] = '\0';
  if (t->trial.cell->kind != CAVUM_CONTOUR_PATH) return;
  const char *key = t->plan.dimensions[dimension].key;
  if (cavum_arc_name_changed(arcs, t->trial.text, key, NULL) != CAVUM_OK) arcs[0] = '\0';
}

// What keeps a dimension of an arc from doing more: the arc is made to meet its ends again.
static void write_arcs(char text[REASON_SIZE], const tuning *t) {
  size_t used = strlen(text);
  for (int j = 0; j < t->task.num_dimensions; j++) {
    char arcs[CAVUM_ARC_NAMES_SIZE];
    name_arcs(arcs, t, j);
    if (!arcs[0]) continue;
    snprintf(text + used, REASON_SIZE - used,
             "; %.120s belongs to the arc %s, whose centre moves until it meets both ends again: "
             "vary its other numbers, too",
             t->plan.dimensions[j].key, arcs);
    return;
  }
}

// A figure that is missed and that no dimension changes; -1: none.
static int find_still(const tuning *t) {
  for (int i = 0; i < t->task.num_figures; i++) {
    bool still = !meets(&t->best, t, i);
    for (int j = 0; j < t->task.num_dimensions; j++) {
      still = still && t->best.point.slope[i][j] == 0.0;
    }
    if (still) return i;
  }
  return -1;
}

// Why no step came nearer: there was no shape or solution, the range ends, or figures do not do
// what their derivatives say.
static void write_reason(char text[REASON_SIZE], const tuning *t) {
  if (t->last.status != CAVUM_OK) {
    snprintf(text, REASON_SIZE, "beyond: %.200s", t->last.message);
    write_arcs(text, t);
    return;
  }
  if (t->num_solves >= t->plan.most_solves) {
    snprintf(text, REASON_SIZE, "that is as many as were allowed");
    return;
  }
  int still = find_still(t);
  if (still >= 0) {
    snprintf(text, REASON_SIZE, "%.120s does not change with %s", key_of_aim(&t->plan, still),
             t->task.num_dimensions > 1 ? "these dimensions" : "this dimension");
    return;
  }
  for (int j = 0; j < t->task.num_dimensions; j++) {
    double x = t->best.point.x[j], near = OF_RANGE * (t->task.high[j] - t->task.low[j]);
    if (x > t->task.low[j] + near && x < t->task.high[j] - near) continue;
    snprintf(text, REASON_SIZE, "%.120s is at the end of its range", t->plan.dimensions[j].key);
    return;
  }
  snprintf(text, REASON_SIZE,
           "no step from there came nearer: the figures do not change as their derivatives say, or "
           "have their best value there");
  write_arcs(text, t);
}

// The figure that is missed by most of its size: what is kept from all that was asked for is small
// against the tolerance of a figure which is known to many digits.
static int find_worst(const tuning *t) {
  int worst = 0;
  double most = -1.0;
  for (int i = 0; i < t->task.num_figures; i++) {
    double miss = fabs(t->best.point.figure[i] - t->task.target[i]) / t->task.size[i];
    if (meets(&t->best, t, i) || !(miss > most)) continue;
    most = miss;
    worst = i;
  }
  return worst;
}

enum { AIM_NAME_SIZE = 64, AIM_SIZE = 160 };

// The key by which an aim is told, and how many SI units one of its number is: frequencies in MHz,
// as in every table.
static double name_aim(char name[AIM_NAME_SIZE], const cavum_tune_plan *plan, int i) {
  const char *key = key_of_aim(plan, i);
  snprintf(name, AIM_NAME_SIZE, "%s", key);
  if (i >= plan->num_aims) {
    return cavum_geometry_describe(plan->shape_aims[i - plan->num_aims].figure).unit_si;
  }
  size_t length;
  cavum_unit unit = cavum_unit_split_key(&length, key);
  if (unit != CAVUM_UNIT_HZ) return cavum_from_unit(1.0, unit);
  snprintf(name, AIM_NAME_SIZE, "%.*s_MHz", (int)length, key);
  return cavum_from_unit(1.0, CAVUM_UNIT_MHZ);
}

// "frequency_MHz = 1287.3 came nearest to 1288", with those words between the numbers.
static void write_aim(char text[AIM_SIZE], const tuning *t, int i, const char *between) {
  char name[AIM_NAME_SIZE];
  double unit_si = name_aim(name, &t->plan, i);
  snprintf(text, AIM_SIZE, "%s = %.9g %s %.9g", name, t->best.point.figure[i] / unit_si, between,
           t->task.target[i] / unit_si);
}

// A target a hundred times beyond all that was found is a number of another unit.
static void write_doubt(char text[AIM_SIZE], const tuning *t, int i) {
  double ratio = fabs(t->task.target[i] / t->best.point.figure[i]);
  text[0] = '\0';
  if (!(ratio > 0.0) || (ratio < OTHER_UNIT && ratio > 1.0 / OTHER_UNIT)) return;
  char name[AIM_NAME_SIZE];
  double unit_si = name_aim(name, &t->plan, i);
  snprintf(text, AIM_SIZE, " (is %s = %.9g meant, in that unit?)", name,
           t->task.target[i] / unit_si);
}

// "epk_over_eacc = 2.43 came nearest to 2.4" of the worst figure, the others that are missed, and
// where, and why.
static cavum_status fail_missed(const tuning *t, cavum_error *error) {
  const shape *s = &t->best;
  int worst = find_worst(t);
  char first[AIM_SIZE], aim[AIM_SIZE], place[256] = "", others[200] = "", reason[REASON_SIZE];
  char doubt[AIM_SIZE];
  write_aim(first, t, worst, "came nearest to");
  for (int i = 0; i < t->task.num_figures; i++) {
    if (i == worst || meets(s, t, i)) continue;
    size_t used = strlen(others);
    write_aim(aim, t, i, "to");
    snprintf(others + used, sizeof others - used, ", %s", aim);
  }
  for (int j = 0; j < t->task.num_dimensions; j++) {
    size_t used = strlen(place);
    snprintf(place + used, sizeof place - used, "%s%s = %.9g (%g to %g)", j > 0 ? ", " : "",
             t->plan.dimensions[j].key, s->point.x[j], t->task.low[j], t->task.high[j]);
  }
  write_reason(reason, t);
  write_doubt(doubt, t, worst);
  return cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                    "not reached: %s%s%s, at %s, after %d solve%s; %s", first, doubt, others, place,
                    t->num_solves, t->num_solves == 1 ? "" : "s", reason);
}

static cavum_status make_outcome(cavum_tune_outcome **outcome, tuning *t, cavum_error *error) {
  size_t bytes = (size_t)t->plan.num_dimensions * sizeof(double);
  cavum_tune_outcome *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->values_before = cavum_alloc(t->plan.num_dimensions, sizeof(double));
  made->values_after = cavum_alloc(t->plan.num_dimensions, sizeof(double));
  if (!made->values_before || !made->values_after) {
    cavum_tune_outcome_destroy(&made);
    return cavum_fail_memory(error);
  }
  for (int j = 0; j < t->plan.num_dimensions; j++) {
    char arcs[CAVUM_ARC_NAMES_SIZE];
    size_t used = strlen(made->arcs);
    name_arcs(arcs, t, j);
    bool fits = used + strlen(arcs) + sizeof ", " <= sizeof made->arcs;
    if (!arcs[0] || !fits || strstr(made->arcs, arcs)) continue;
    snprintf(made->arcs + used, sizeof made->arcs - used, "%s%s", used > 0 ? ", " : "", arcs);
  }
  made->met = is_met(t);
  made->num_solves = t->num_solves;
  made->num_halved = t->num_halved;
  made->num_dimensions = t->plan.num_dimensions;
  memcpy(made->values_before, t->task.origin, bytes);
  memcpy(made->values_after, t->best.point.x, bytes);
  made->after = t->best.result;
  made->before = t->first ? t->first : t->best.result;
  made->cell_text = t->best.text;
  t->best.result = t->first = NULL;
  t->best.text = NULL;
  *outcome = made;
  return CAVUM_OK;
}

static cavum_status run(cavum_tune_outcome **outcome, tuning *t, cavum_error *error) {
  cavum_status status = solve(&t->best, t, t->task.origin, error);
  if (status == CAVUM_OK) status = search(t, error);
  if (status != CAVUM_OK) return status;
  cavum_error what = t->best.what;
  cavum_status reached = is_met(t) ? t->best.solved : fail_missed(t, &what);
  status = make_outcome(outcome, t, error);
  if (status != CAVUM_OK) return status;
  if (reached != CAVUM_OK && error) *error = what;
  return reached;
}

cavum_status cavum_tune_figures(cavum_tune_outcome **outcome, const cavum_cell *cell,
                                const cavum_tune_plan *plan, const cavum_solve_options *options,
                                cavum_error *error) {
  cavum_cell full;
  cavum_status status = CAVUM_OK;
  if (!outcome || !cell || !plan) return cavum_fail_null(error, __func__);
  tuning *t = cavum_alloc(1, sizeof *t);
  if (!t) return cavum_fail_memory(error);
  CAVUM_TRY(cavum_sized_take(&t->plan, plan, &SIZED, error));
  CAVUM_TRY(cavum_sized_take(&full, cell, &cavum_cell_sized, error));
  CAVUM_TRY(cavum_cell_check(cell, error));
  CAVUM_TRY(check(&t->plan, &full, error));
  CAVUM_TRY(cavum_trial_open(&t->trial, &full, options, error));
  t->trial.name = t->plan.name;
  for (int j = 0; j < t->plan.num_dimensions; j++) {
    CAVUM_TRY(cavum_trial_add(&t->trial, t->plan.dimensions[j].key, error));
  }
  CAVUM_TRY(start_task(t, error));
  CAVUM_TRY(run(outcome, t, error));
done:
  clear_shape(&t->best);
  cavum_result_destroy(&t->first);
  cavum_trial_clear(&t->trial);
  free(t);
  return status;
}
