// SPDX-License-Identifier: GPL-3.0-or-later
// Sequential quadratic programming within a region of trust [Nocedal2006] ch. 18.
#include "optimum/search.h"

#include <math.h>
#include <string.h>

#include "base/base.h"
#include "optimum/search_watch.h"

// Of the ranges of the variables: the first region, the largest, and where it is given up.
static const double FIRST_RADIUS = 0.15, LARGEST_RADIUS = 0.5, SMALLEST_RADIUS = 1e-9;
// Parts of the promised gain from which a step is taken, and the region shrinks or grows.
static const double TAKEN = 0.05, POOR = 0.25, GOOD = 0.7;
// Curvature before any is known, and Powell's part of it that a correction keeps.
static const double FIRST_CURVATURE = 0.1, KEPT = 0.2;
// Least part that the whole curvature shrinks to at a step.
static const double LEAST_SHRUNK = 0.1;
// Part of the largest curvature that every direction has at least.
static const double LEAST_PART = 1e-5;
// The penalty is above the sum of the multipliers by this factor.
static const double FIRST_PENALTY = 10.0, ABOVE_MULTIPLIERS = 1.5, LARGEST_PENALTY = 1e4,
                    FAR_ABOVE = 3.0, LEAST_PENALTY = 0.1;
// Rows hold to this; a higher penalty is kept where it leaves less than this part of the excess.
static const double MET_ROWS = 1e-9, RAISED = 0.8;
// Part of what solves of neighbours may differ by that hides a gain.
static const double NOISE = 0.5;

/** What one search keeps beside its result. */
typedef struct state {
  cavum_search *search;
  const cavum_goal *goal;
  cavum_model model;                                                       // of the point
  double curvature[CAVUM_GOAL_MOST_VARIABLES][CAVUM_GOAL_MOST_VARIABLES];  // as learnt so far
  cavum_rows rows;
  cavum_model_solution found;
  cavum_model eased;  // with little curvature
  cavum_model_solution of_eased;
  double constant[CAVUM_MODEL_MOST_ROWS];        // of the rows, as the derivatives have them
  double beyond[CAVUM_GOAL_MOST_QUANTITIES][2];  // by what a limit is more at a step than the
                                                 // derivatives say: of the least, of the most
  double radius;
  bool scaled;     // the curvature has its size from a step
  int num_idle;    // steps in a row that promised less than the solutions resolve
  bool corrected;  // a step from this point was tried again with what the first one told
} state;

void cavum_search_clear(cavum_search *search) {
  if (search->here) cavum_optimum_point_clear(search->here);
  free(search->here);
  free(search->steps);
  search->here = NULL;
  search->steps = NULL;
}

bool cavum_search_is_within(const cavum_search *search) {
  const cavum_goal *goal = search->solving->goal;
  return search->end != CAVUM_OPTIMUM_INFEASIBLE &&
         (search->end == CAVUM_OPTIMUM_CONVERGED ||
          cavum_rows_violation_in_accuracies(goal, search->here) <= 1.0);
}

cavum_status cavum_search_count_left_out(int *count, const cavum_search *search,
                                         cavum_error *error) {
  state *s = cavum_alloc(1, sizeof *s);
  if (!s) return cavum_fail_memory(error);
  cavum_rows_fill(&s->model, &s->rows, search->solving->goal, search->here);
  *count = s->model.num_left_out;
  free(s);
  return CAVUM_OK;
}

// Whether a frequency that is held is met to a part of its accuracy; true where none is.
static bool is_on_frequency(const cavum_search *search, double part) {
  return cavum_rows_off_frequency(search->solving->goal, search->here) <= part;
}

bool cavum_search_is_better(const cavum_search *search, const cavum_search *than) {
  if (!than->here) return true;
  bool met = search->end == CAVUM_OPTIMUM_CONVERGED, other = than->end == CAVUM_OPTIMUM_CONVERGED;
  bool feasible = cavum_search_is_within(search), other_feasible = cavum_search_is_within(than);
  if (met != other) return met;
  if (feasible != other_feasible) return feasible;
  bool on = is_on_frequency(search, 1.0), other_on = is_on_frequency(than, 1.0);
  if (!feasible && on != other_on) return on;
  return feasible ? search->objective < than->objective : search->violation < than->violation;
}

static cavum_status note(cavum_search *search, const cavum_optimum_point *point, double radius,
                         bool accepted, cavum_error *error) {
  const cavum_goal *goal = search->solving->goal;
  if (!cavum_grow((void **)&search->steps, &search->capacity, search->num_steps + 1,
                  sizeof *search->steps)) {
    return cavum_fail_memory(error);
  }
  cavum_search_step *step = &search->steps[search->num_steps++];
  *step = (cavum_search_step){.objective = cavum_rows_objective(goal, point),
                              .violation = cavum_rows_violation(goal, point),
                              .residual = NAN,
                              .radius = radius,
                              .accepted = accepted};
  memcpy(step->place, point->place, sizeof step->place);
  cavum_search_watch_solved(search->solving, point);
  return CAVUM_OK;
}

static void set_bounds(state *s, double radius) {
  const double *place = s->search->here->place;
  for (int j = 0; j < s->goal->num_variables; j++) {
    bool fixed = s->search->fixed && s->search->fixed[j];
    s->model.low[j] = fixed ? 0.0 : cavum_max(-place[j], -radius);
    s->model.high[j] = fixed ? 0.0 : cavum_min(1.0 - place[j], radius);
  }
}

/** First-order conditions at a point. */
typedef struct conditions {
  double residual, unused;
  double limit[CAVUM_GOAL_MOST_QUANTITIES][2];
  double low[CAVUM_GOAL_MOST_VARIABLES], high[CAVUM_GOAL_MOST_VARIABLES];
} conditions;

// Whether a row is of a limit that is far away, which has no multiplier at an optimum.
static bool is_far(const state *s, int row) {
  const cavum_row_origin *origin = &s->rows.origin[row];
  if (s->model.rows[row].bound >= 0) return false;
  double value = s->search->here->values[origin->quantity].value;
  double excess = cavum_rows_excess(&s->goal->quantities[origin->quantity], value, origin->sign);
  return cavum_rows_is_far(-excess, s->goal->tolerance);
}

// Residual of the first-order conditions with multipliers of the rows: what the Lagrange function
// changes by along a variable that has room, and what multipliers give to rows that are not met:
// all of it together may still be gained. Rows of limits far away have none: a slope that grows
// without bound, as where a piece of the wall vanishes, would let a small one stand for the
// objective.
static void judge_conditions(conditions *c, const state *s, const double *of_rows) {
  const cavum_search *search = s->search;
  double slope[CAVUM_GOAL_MOST_VARIABLES], multiplier[CAVUM_MODEL_MOST_ROWS], unused = 0.0;
  for (int k = 0; k < s->model.num_rows; k++) multiplier[k] = is_far(s, k) ? 0.0 : of_rows[k];
  *c = (conditions){.residual = 0.0};
  cavum_rows_lagrange(slope, &s->rows, multiplier, s->model.num_rows, s->goal, search->here,
                      search->here);
  for (int j = 0; j < s->goal->num_variables; j++) {
    bool fixed = search->fixed && search->fixed[j];
    double up = 1.0 - search->here->place[j], down = search->here->place[j];
    c->low[j] = !fixed && down <= 0.0 ? cavum_max(slope[j], 0.0) : 0.0;
    c->high[j] = !fixed && up <= 0.0 ? cavum_max(-slope[j], 0.0) : 0.0;
    if (fixed) continue;
    c->residual = cavum_max(c->residual, slope[j] > 0.0 ? slope[j] * cavum_min(1.0, down / 0.01)
                                                        : -slope[j] * cavum_min(1.0, up / 0.01));
  }
  for (int k = 0; k < s->model.num_rows; k++) {
    const cavum_row_origin *origin = &s->rows.origin[k];
    unused += cavum_max(-multiplier[k] * s->constant[k], 0.0);
    if (s->model.rows[k].bound >= 0) continue;
    c->limit[origin->quantity][origin->sign > 0.0] += multiplier[k];
  }
  c->residual = cavum_max(c->residual, unused) + 0.0;  // not -0
  c->unused = unused;
}

static void keep_conditions(cavum_search *search, const conditions *c) {
  search->residual = c->residual;
  search->unused = c->unused;
  memcpy(search->limit_multiplier, c->limit, sizeof c->limit);
  memcpy(search->low_multiplier, c->low, sizeof c->low);
  memcpy(search->high_multiplier, c->high, sizeof c->high);
}

// Without a region of trust: a variable that has room may go anywhere.
static void ease_bounds(state *s) {
  static const double ANYWHERE = 1e6;
  const cavum_search *search = s->search;
  for (int j = 0; j < s->goal->num_variables; j++) {
    bool fixed = search->fixed && search->fixed[j];
    s->eased.low[j] = fixed || search->here->place[j] <= 0.0 ? 0.0 : -ANYWHERE;
    s->eased.high[j] = fixed || search->here->place[j] >= 1.0 ? 0.0 : ANYWHERE;
  }
}

// Multipliers of the rows that were kept to their places among all.
static void spread_multipliers(state *s) {
  int kept = s->eased.num_rows;
  for (int row = s->model.num_rows - 1; row >= 0; row--) {
    s->of_eased.multiplier[row] = is_far(s, row) ? 0.0 : s->of_eased.multiplier[--kept];
  }
}

// The conditions ask whether there are multipliers. Those of the subproblem leave the step times
// the curvature that was learnt, which says little where that is poorly known and many places of a
// wall compete. A subproblem of little curvature has those that leave the least: the less, the less
// it minds that a row is below the highest. It has no region of trust, whose bounds would stand for
// rows that balance each other.
static cavum_status take_residual(state *s, cavum_error *error) {
  static const double EASY[] = {1e-1, 1e-2, 1e-3, 1e-4, 1e-5, 1e-6};
  enum { NUM_EASY = sizeof EASY / sizeof *EASY };
  conditions c;
  judge_conditions(&c, s, s->found.multiplier);
  keep_conditions(s->search, &c);
  for (int k = 0; k < NUM_EASY && s->search->residual > s->goal->tolerance; k++) {
    s->eased = s->model;
    ease_bounds(s);
    s->eased.num_rows = 0;
    for (int row = 0; row < s->model.num_rows; row++) {
      if (is_far(s, row)) continue;
      cavum_model_row *to = &s->eased.rows[s->eased.num_rows++];
      *to = s->model.rows[row];
      to->constant = s->constant[row];
    }
    for (int i = 0; i < s->goal->num_variables; i++) {
      for (int j = 0; j < s->goal->num_variables; j++) {
        s->eased.curvature[i][j] = i == j ? EASY[k] : 0.0;
      }
    }
    cavum_status status = cavum_model_solve(&s->of_eased, &s->eased, error);
    if (status == CAVUM_ERR_LIBRARY) continue;
    if (status != CAVUM_OK) return status;
    spread_multipliers(s);
    judge_conditions(&c, s, s->of_eased.multiplier);
    if (c.residual < s->search->residual) keep_conditions(s->search, &c);
  }
  return CAVUM_OK;
}

// Of a value that is held exactly both rows hold, and only the difference of theirs counts.
static double sum_of_multipliers(const state *s) {
  double of[CAVUM_GOAL_MOST_QUANTITIES] = {0.0}, sum = 0.0;
  for (int k = 0; k < s->model.num_rows; k++) {
    if (s->model.rows[k].bound >= 0) continue;
    of[s->rows.origin[k].quantity] += s->rows.origin[k].sign * s->found.multiplier[k];
  }
  for (int i = 0; i < s->goal->num_quantities; i++) sum += fabs(of[i]);
  return sum;
}

// Curvature from the change of the derivatives of the Lagrange function over a step, damped so that
// it stays positive [Nocedal2006] (18.14) to (18.16), and sized by each step [AlBaali1998].
static void learn(state *s, const cavum_optimum_point *next) {
  int n = s->goal->num_variables;
  double before[CAVUM_GOAL_MOST_VARIABLES], after[CAVUM_GOAL_MOST_VARIABLES];
  double step[CAVUM_GOAL_MOST_VARIABLES], change[CAVUM_GOAL_MOST_VARIABLES];
  double bent[CAVUM_GOAL_MOST_VARIABLES], sy = 0.0, sbs = 0.0, yy = 0.0;
  const cavum_optimum_point *here = s->search->here;
  const double *multiplier = s->found.multiplier;
  cavum_rows_lagrange(before, &s->rows, multiplier, s->model.num_rows, s->goal, here, here);
  cavum_rows_lagrange(after, &s->rows, multiplier, s->model.num_rows, s->goal, here, next);
  for (int j = 0; j < n; j++) {
    step[j] = next->place[j] - here->place[j];
    change[j] = after[j] - before[j];
    sy += step[j] * change[j];
    yy += change[j] * change[j];
  }
  if (!s->scaled && sy > 0.0) {
    double size = cavum_min(cavum_max(yy / sy, 1e-3), 1e3);
    for (int j = 0; j < n; j++) s->curvature[j][j] = size;
    s->scaled = true;
  }
  for (int i = 0; i < n; i++) {
    bent[i] = 0.0;
    for (int j = 0; j < n; j++) bent[i] += s->curvature[i][j] * step[j];
    sbs += step[i] * bent[i];
  }
  if (!(sbs > 0.0)) return;
  // Curvature that is more than the step shows shrinks in all directions first: BFGS corrects it
  // along the step alone, and steps that are too short everywhere else end far from the optimum.
  double shrunk = cavum_min(1.0, cavum_max(sy / sbs, LEAST_SHRUNK));
  for (int i = 0; i < n; i++) {
    for (int j = 0; j < n; j++) s->curvature[i][j] *= shrunk;
    bent[i] *= shrunk;
  }
  sbs *= shrunk;
  double part = sy >= KEPT * sbs ? 1.0 : (1.0 - KEPT) * sbs / (sbs - sy);
  double damped = part * sy + (1.0 - part) * sbs;
  for (int i = 0; i < n; i++) change[i] = part * change[i] + (1.0 - part) * bent[i];
  for (int i = 0; i < n; i++) {
    for (int j = 0; j < n; j++) {
      s->curvature[i][j] += change[i] * change[j] / damped - bent[i] * bent[j] / sbs;
    }
  }
}

static void accept(state *s, cavum_optimum_point *next) {
  learn(s, next);
  cavum_optimum_point_clear(s->search->here);
  *s->search->here = *next;
  *next = (cavum_optimum_point){0};
  s->search->steps[s->search->num_steps - 1].accepted = true;
}

static void forget_curvature(state *s) {
  int n = s->goal->num_variables;
  for (int i = 0; i < n; i++) {
    for (int j = 0; j < n; j++) s->curvature[i][j] = i == j ? FIRST_CURVATURE : 0.0;
    memcpy(s->model.curvature[i], s->curvature[i], sizeof s->curvature[i]);
  }
  s->scaled = false;
}

// A subproblem whose curvature is beyond what can be computed with is solved with a new one.
static cavum_status solve_safely(state *s, cavum_error *error) {
  cavum_status status = cavum_model_solve(&s->found, &s->model, error);
  if (status != CAVUM_ERR_LIBRARY) return status;
  forget_curvature(s);
  return cavum_model_solve(&s->found, &s->model, error);
}

// The subproblem within the region, with what is known of the limits beyond their derivatives. The
// penalty is above the multipliers; where the rows cannot all hold it is raised only if that makes
// them hold better.
static cavum_status solve_once(state *s, cavum_error *error) {
  double penalty = s->model.penalty;
  set_bounds(s, s->radius);
  for (int k = 0; k < s->model.num_rows; k++) {
    const cavum_row_origin *origin = &s->rows.origin[k];
    bool limit = s->model.rows[k].bound < 0;
    double beyond = limit ? s->beyond[origin->quantity][origin->sign > 0.0] : 0.0;
    s->model.rows[k].constant = s->constant[k] + beyond;
  }
  cavum_status status = solve_safely(s, error);
  if (status != CAVUM_OK) return status;
  double excess = s->found.excess;
  if (excess <= MET_ROWS) {
    // Multipliers are of no other penalty then: no need to solve again. One that was raised on the
    // way comes down, or it would keep every step to the curvature of the limits.
    double sum = sum_of_multipliers(s);
    double least = ABOVE_MULTIPLIERS * sum, most = FAR_ABOVE * sum + LEAST_PENALTY;
    s->model.penalty = cavum_min(cavum_max(penalty, least), most);
    return CAVUM_OK;
  }
  if (penalty >= LARGEST_PENALTY) return CAVUM_OK;
  s->model.penalty = 10.0 * penalty;
  status = solve_safely(s, error);
  if (status != CAVUM_OK || s->found.excess <= RAISED * excess) return status;
  s->model.penalty = penalty;
  return solve_safely(s, error);
}

// Where the step leads that was found within a radius: a variable at a bound of its own is there to
// the bit.
static void step_place(double *place, const state *s, double radius) {
  const cavum_search *search = s->search;
  for (int j = 0; j < s->goal->num_variables; j++) {
    double at = search->here->place[j];
    place[j] = cavum_min(cavum_max(at + s->found.step[j], 0.0), 1.0);
    if (s->found.at_high[j] > 0.0 && s->model.high[j] < radius) place[j] = 1.0;
    if (s->found.at_low[j] > 0.0 && s->model.low[j] > -radius) place[j] = 0.0;
    if (search->fixed && search->fixed[j]) place[j] = at;
  }
}

// What a limit is more at a place than its derivatives say.
static double beyond_of(const state *s, int quantity, double sign, double value) {
  const cavum_goal_quantity *q = &s->goal->quantities[quantity];
  const cavum_optimum_value *v = &s->search->here->values[quantity];
  double more = cavum_rows_excess(q, value, sign) - cavum_rows_excess(q, v->value, sign);
  for (int j = 0; j < s->goal->num_variables; j++) {
    more -= cavum_rows_scale(q, v->value, sign) * v->slope[j] * s->found.step[j];
  }
  return isfinite(more) ? more : 0.0;
}

// Figures of the shape take no solve: the step is mended until its limits are met as they are.
// `shape` says whether there is one at all.
static cavum_status solve_model(bool *shape, state *s, cavum_error *error) {
  enum { MOST_PASSES = 4 };
  const cavum_goal *goal = s->goal;
  double values[CAVUM_GOAL_MOST_QUANTITIES], place[CAVUM_GOAL_MOST_VARIABLES];
  *shape = true;
  for (int i = goal->num_terms; i < goal->num_quantities; i++) {
    if (cavum_optimum_is_of_shape(&goal->quantities[i])) s->beyond[i][0] = s->beyond[i][1] = 0.0;
  }
  cavum_status status = solve_once(s, error);
  for (int pass = 0; pass < MOST_PASSES && status == CAVUM_OK; pass++) {
    double most = 0.0;
    step_place(place, s, s->radius);
    status = cavum_optimum_measure(values, goal, place, error);
    *shape = status == CAVUM_OK;
    if (cavum_optimum_is_no_shape(status)) return CAVUM_OK;
    for (int i = goal->num_terms; i < goal->num_quantities && status == CAVUM_OK; i++) {
      if (!cavum_optimum_is_of_shape(&goal->quantities[i])) continue;
      for (int side = 0; side < 2; side++) {
        double beyond = beyond_of(s, i, side == 0 ? -1.0 : 1.0, values[i]);
        most = cavum_max(most, fabs(beyond - s->beyond[i][side]));
        s->beyond[i][side] = beyond;
      }
    }
    if (status != CAVUM_OK || most <= MET_ROWS) break;
    status = solve_once(s, error);
  }
  return status;
}

static double merit(const state *s, const cavum_optimum_point *point) {
  return cavum_rows_objective(s->goal, point) +
         s->model.penalty * cavum_rows_violation(s->goal, point);
}

static double longest(const state *s) {
  double most = 0.0;
  for (int j = 0; j < s->goal->num_variables; j++) {
    most = cavum_max(most, fabs(s->found.step[j]));
  }
  return most;
}

// Whether what a step breaks most is a limit whose curvature it told: not a peak, which changes its
// place.
static bool is_mendable(const state *s, const cavum_optimum_point *next) {
  double peaks = 0.0, others = 0.0;
  for (int i = s->goal->num_terms; i < s->goal->num_quantities; i++) {
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      double excess = cavum_rows_excess(&s->goal->quantities[i], next->values[i].value, sign);
      double *most = next->values[i].num_places > 0 ? &peaks : &others;
      *most = cavum_max(*most, excess);
    }
  }
  return others > peaks && others > cavum_rows_violation(s->goal, s->search->here);
}

// A step whose limits came out otherwise than the derivatives say is tried once more with what it
// told; a shorter one has the square of its length of that.
static void correct(state *s, const cavum_optimum_point *next, double length, double shorter) {
  double radius = shorter * length;
  bool again = !s->corrected && is_mendable(s, next);
  double part = again ? 1.0 : radius * radius / (length * length);
  for (int i = s->goal->num_terms; i < s->goal->num_quantities; i++) {
    if (next->values[i].num_places > 0) continue;
    for (int side = 0; side < 2; side++) {
      s->beyond[i][side] = part * beyond_of(s, i, side == 0 ? -1.0 : 1.0, next->values[i].value);
    }
  }
  s->corrected = again;
  if (!again) s->radius = radius;
}

static cavum_status judge_step(bool *taken, state *s, cavum_optimum_point *next, double promised,
                               cavum_error *error) {
  double length = longest(s);
  cavum_status status = note(s->search, next, s->radius, false, error);
  if (status != CAVUM_OK) return status;
  double gain = merit(s, s->search->here) - merit(s, next);
  // What the solution does not resolve is no reason to refuse a step.
  double noise = NOISE * (cavum_rows_objective_noise(s->goal, next) +
                          s->model.penalty * cavum_rows_limit_noise(s->goal, next)) +
                 1e-12;
  double part = (gain + noise) / (promised + noise);
  s->num_idle = promised < noise ? s->num_idle + 1 : 0;
  *taken = part > TAKEN;
  if (!*taken) {
    // The least value of the parabola through what was promised and what came.
    double shorter = 0.5 * promised / cavum_max(promised - gain, promised);
    correct(s, next, length, cavum_min(cavum_max(shorter, 0.1), 0.5));
    return CAVUM_OK;
  }
  if (part < POOR) s->radius = 0.5 * length;
  if (part > GOOD && length > 0.9 * s->radius) {
    s->radius = cavum_min(2.0 * s->radius, LARGEST_RADIUS);
  }
  accept(s, next);
  return CAVUM_OK;
}

// Tries the step of the subproblem. Not taken: the next one is shorter, or corrected.
static cavum_status try_step(bool *taken, state *s, bool shape, cavum_error *error) {
  cavum_optimum_point next = {0};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  double promised =
      s->model.penalty * cavum_rows_violation(s->goal, s->search->here) - s->found.value;
  cavum_error what = {0};
  cavum_status status = CAVUM_ERR_GEOMETRY;
  *taken = false;
  step_place(place, s, s->radius);
  if (shape) status = cavum_optimum_point_solve(&next, s->search->solving, place, &what);
  if (cavum_optimum_is_no_shape(status)) {
    s->radius = 0.3 * longest(s);
    memset(s->beyond, 0, sizeof s->beyond);
    return CAVUM_OK;
  }
  if (status == CAVUM_OK) status = judge_step(taken, s, &next, promised, &what);
  if (status != CAVUM_OK && error) *error = what;
  cavum_optimum_point_clear(&next);
  return status;
}

// At a point that is met the peaks of the search become those of the figures: where these differ,
// it goes on. False: they do not.
static bool refit(state *s) {
  bool changed = false;
  for (int i = 0; i < s->goal->num_quantities; i++) {
    cavum_optimum_value *v = &s->search->here->values[i];
    if (v->num_places == 0) continue;
    double off = v->figure / v->value;
    const cavum_cell *cell = &cavum_goal_study_of(s->goal, &s->goal->quantities[i])->cell;
    changed = changed || fabs(off - 1.0) > CAVUM_ROWS_MET * cell->accuracy_other_figures;
    s->search->solving->factor[i] *= off;
    v->value = v->figure;
  }
  return changed;
}

static bool is_met(const state *s) {
  // Of what limits may leave in a search that uses them up.
  static const double LEFT = 0.1;
  if (s->search->uses_up && s->search->unused > LEFT * s->goal->tolerance) return false;
  return s->search->residual <= s->goal->tolerance && cavum_rows_are_met(s->goal, s->search->here);
}

static cavum_optimum_end end_of(const state *s, cavum_optimum_end otherwise) {
  bool feasible = cavum_rows_violation_in_accuracies(s->goal, s->search->here) <= 1.0;
  return feasible ? otherwise : CAVUM_OPTIMUM_INFEASIBLE;
}

static void start_point(state *s) {
  cavum_rows_fill(&s->model, &s->rows, s->goal, s->search->here);
  for (int k = 0; k < s->model.num_rows; k++) s->constant[k] = s->model.rows[k].constant;
  // A limit of the shape may bend a thousand times more than anything else.
  int n = s->goal->num_variables;
  double most = 0.0;
  for (int j = 0; j < n; j++) most = cavum_max(most, s->curvature[j][j]);
  for (int i = 0; i < n; i++) {
    for (int j = 0; j < n; j++) {
      s->model.curvature[i][j] = s->curvature[i][j] + (i == j ? LEAST_PART * most : 0.0);
    }
  }
  memset(s->beyond, 0, sizeof s->beyond);
  s->corrected = false;
}

// What a step for limits alone is made for.
typedef enum step_for {
  FOR_ALL_LIMITS,    // the shortest step to where they hold
  FOR_OTHER_LIMITS,  // the step that breaks them least and keeps the frequency that is held
  FOR_FREQUENCY      // the shortest step to that frequency
} step_for;

// The subproblem without an objective.
static void make_eased(state *s, step_for what, double radius) {
  // Rows of a frequency that is held count so much more.
  static const double HELD = 100.0;
  start_point(s);
  set_bounds(s, radius);
  s->eased = s->model;
  s->eased.penalty = LARGEST_PENALTY;
  s->eased.num_bounds = s->eased.num_rows = 0;
  for (int k = 0; k < s->model.num_rows; k++) {
    bool held = cavum_rows_is_held_frequency(&s->goal->quantities[s->rows.origin[k].quantity]);
    if (s->model.rows[k].bound >= 0 || (what == FOR_FREQUENCY && !held)) continue;
    cavum_model_row *row = &s->eased.rows[s->eased.num_rows++];
    *row = s->model.rows[k];
    if (what != FOR_OTHER_LIMITS || !held) continue;
    row->constant *= HELD;
    for (int j = 0; j < s->goal->num_variables; j++) row->slope[j] *= HELD;
  }
  for (int i = 0; i < s->goal->num_variables; i++) {
    s->eased.gradient[i] = 0.0;
    for (int j = 0; j < s->goal->num_variables; j++) {
      s->eased.curvature[i][j] = i == j ? 1.0 : 0.0;
    }
  }
}

// The largest excess of frequencies that are held, or of all other limits.
static double excess_of(const state *s, const cavum_optimum_point *point, bool held) {
  double most = 0.0;
  for (int i = s->goal->num_terms; i < s->goal->num_quantities; i++) {
    const cavum_goal_quantity *q = &s->goal->quantities[i];
    if (cavum_rows_is_held_frequency(q) != held) continue;
    for (double sign = -1.0; sign <= 1.0; sign += 2.0) {
      most = cavum_max(most, cavum_rows_excess(q, point->values[i].value, sign));
    }
  }
  return most;
}

// What a step of a kind is to make less.
static double measure_of(const state *s, const cavum_optimum_point *point, step_for what) {
  // On the way a frequency may be off by a tenth of what the other limits are.
  static const double ON_THE_WAY = 10.0;
  if (what == FOR_ALL_LIMITS) return cavum_rows_violation_in_accuracies(s->goal, point);
  double off = excess_of(s, point, true);
  if (what == FOR_FREQUENCY) return off;
  return cavum_max(ON_THE_WAY * off, excess_of(s, point, false));
}

// A step for limits alone, whatever it does to the objective. Not nearer: there is no such step, or
// it makes nothing less.
static cavum_status step_to_limits(bool *nearer, state *s, step_for what, double radius,
                                   cavum_error *error) {
  cavum_optimum_point next = {0};
  double place[CAVUM_GOAL_MOST_VARIABLES];
  *nearer = false;
  make_eased(s, what, radius);
  cavum_status status = cavum_model_solve(&s->found, &s->eased, error);
  if (status == CAVUM_ERR_LIBRARY) return CAVUM_OK;
  if (status != CAVUM_OK) return status;
  step_place(place, s, radius);
  status = cavum_optimum_point_solve(&next, s->search->solving, place, error);
  if (cavum_optimum_is_no_shape(status)) return CAVUM_OK;
  if (status == CAVUM_OK) status = note(s->search, &next, radius, false, error);
  *nearer = status == CAVUM_OK && measure_of(s, &next, what) < measure_of(s, s->search->here, what);
  if (*nearer) {
    cavum_optimum_point_clear(s->search->here);
    *s->search->here = next;
    next = (cavum_optimum_point){0};
    s->search->steps[s->search->num_steps - 1].accepted = true;
  }
  cavum_optimum_point_clear(&next);
  return status;
}

// Of all cells, but for those of the point that it began with: that is one.
static int count_solves(const cavum_search *search, int first) {
  bool solved = !search->from || search->solves_again;
  return (solved ? 1 : 0) + search->solving->num_solves - first;
}

// A search that stalled may have left a limit broken by little: steps for the objective, whose
// peaks are known to less than a frequency is, break it again and again. It ends within the limits
// where a few steps for these alone come there.
static cavum_status end_within_limits(state *s, int first, cavum_error *error) {
  enum { MOST_STEPS = 4 };
  static const double RADIUS = 0.05;
  cavum_search *search = s->search;
  bool nearer = true, shape = true;
  cavum_status status = CAVUM_OK;
  for (int k = 0; k < MOST_STEPS && nearer && search->end == CAVUM_OPTIMUM_INFEASIBLE; k++) {
    CAVUM_TRY(step_to_limits(&nearer, s, FOR_ALL_LIMITS, RADIUS, error));
    search->end = end_of(s, CAVUM_OPTIMUM_STALLED);
  }
  if (search->end != CAVUM_OPTIMUM_STALLED) goto done;
  start_point(s);
  CAVUM_TRY(solve_model(&shape, s, error));
  CAVUM_TRY(take_residual(s, error));
  if (is_met(s)) search->end = CAVUM_OPTIMUM_CONVERGED;
done:
  search->num_solves = count_solves(search, first);
  return status;
}

// Limits that cannot all hold are broken evenly where a search stalls, a frequency that is held as
// readily as a peak. A cell off its frequency is of no use, one with a higher peak may be: the
// search goes on for the limits that are broken least on frequency, and ends there. Points of
// fronts that cannot be are gaps, whatever is near.
static cavum_status end_on_frequency(state *s, int first, cavum_error *error) {
  enum { MOST_STEPS = 12, MOST_NEWTON = 6 };
  static const double FIRST = 0.1, LAST = 2e-3, SHRUNK_TO = 0.3, LARGEST = 0.3;
  cavum_search *search = s->search;
  cavum_status status = CAVUM_OK;
  double radius = FIRST;
  bool nearer = true;
  if (s->goal->num_axes > 0 || is_on_frequency(search, 1.0)) return CAVUM_OK;
  for (int k = 0; k < MOST_STEPS && radius > LAST; k++) {
    CAVUM_TRY(step_to_limits(&nearer, s, FOR_OTHER_LIMITS, radius, error));
    radius = nearer ? cavum_min(2.0 * radius, LARGEST) : SHRUNK_TO * radius;
  }
  radius = LARGEST;
  for (int k = 0; k < MOST_NEWTON && !is_on_frequency(search, CAVUM_ROWS_MET); k++) {
    CAVUM_TRY(step_to_limits(&nearer, s, FOR_FREQUENCY, radius, error));
    if (!nearer) radius *= SHRUNK_TO;
  }
  search->end = end_of(s, CAVUM_OPTIMUM_STALLED);
done:
  search->num_solves = (search->from ? 0 : 1) + search->solving->num_solves - first;
  return status;
}

// The residual of the point that was taken last, in its entry of the path as well.
static cavum_status take_residual_of_step(state *s, cavum_error *error) {
  cavum_search *search = s->search;
  cavum_status status = take_residual(s, error);
  if (status != CAVUM_OK) return status;
  int k = search->num_steps - 1;
  while (k >= 0 && !search->steps[k].accepted) k--;
  if (k >= 0) search->steps[k].residual = search->residual;
  return CAVUM_OK;
}

static cavum_status go(state *s, cavum_error *error) {
  cavum_search *search = s->search;
  int first = search->solving->num_solves;
  enum { MOST_REFITS = 5, MOST_IDLE = 12 };
  bool taken = true, shape = true;
  int num_refits = 0;
  for (;;) {
    if (taken) start_point(s);
    cavum_status status = solve_model(&shape, s, error);
    if (status == CAVUM_OK && taken) status = take_residual_of_step(s, error);
    if (status != CAVUM_OK) return status;
    search->num_solves = count_solves(search, first);
    search->end = is_met(s) ? CAVUM_OPTIMUM_CONVERGED : CAVUM_OPTIMUM_STALLED;
    if (search->end == CAVUM_OPTIMUM_CONVERGED) {
      taken = num_refits++ < MOST_REFITS && refit(s);
      if (!taken) return CAVUM_OK;
      continue;
    }
    search->end = end_of(s, CAVUM_OPTIMUM_STALLED);
    if (s->radius < SMALLEST_RADIUS || s->num_idle > MOST_IDLE) {
      if (search->end != CAVUM_OPTIMUM_INFEASIBLE) return CAVUM_OK;
      status = end_within_limits(s, first, error);
      if (status != CAVUM_OK || search->end != CAVUM_OPTIMUM_INFEASIBLE) return status;
      return end_on_frequency(s, first, error);
    }
    search->end = CAVUM_OPTIMUM_OUT_OF_SOLVES;
    if (search->num_solves >= search->most_solves) return CAVUM_OK;
    status = try_step(&taken, s, shape, error);
    if (status != CAVUM_OK) return status;
  }
}

// Where the search starts: a place, or the point of another search with what that has learnt.
static cavum_status begin(state *s, const double *place, cavum_error *error) {
  cavum_search *search = s->search;
  const cavum_search *from = search->from;
  s->radius = FIRST_RADIUS;
  s->model.penalty = FIRST_PENALTY;
  forget_curvature(s);
  if (!from) return cavum_optimum_point_solve(search->here, search->solving, place, error);
  s->model.penalty = from->penalty;
  s->scaled = from->has_curvature;
  if (from->has_curvature) memcpy(s->curvature, from->curvature, sizeof s->curvature);
  if (search->solves_again) {
    return cavum_optimum_point_solve(search->here, search->solving, from->here->place, error);
  }
  return cavum_optimum_point_copy(search->here, from->here, error);
}

cavum_status cavum_search_run(cavum_search *search, const double *place, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  state *s = cavum_alloc(1, sizeof *s);
  search->end = CAVUM_OPTIMUM_NO_SHAPE;
  search->here = cavum_alloc(1, sizeof *search->here);
  if (!s || !search->here) CAVUM_TRY(cavum_fail_memory(error));
  s->search = search;
  s->goal = search->solving->goal;
  CAVUM_TRY(begin(s, place, error));
  CAVUM_TRY(note(search, search->here, s->radius, true, error));
  search->residual = NAN;
  status = go(s, error);
  // What it came to is kept.
  if (status == CAVUM_ERR_STOPPED) search->end = CAVUM_OPTIMUM_STOPPED;
  if (status != CAVUM_OK && status != CAVUM_ERR_STOPPED) goto done;
  memcpy(search->curvature, s->curvature, sizeof search->curvature);
  search->penalty = s->model.penalty;
  search->has_curvature = s->scaled;
  search->objective = cavum_rows_objective(s->goal, search->here);
  search->violation = cavum_rows_violation(s->goal, search->here);
done:
  free(s);
  return status;
}
