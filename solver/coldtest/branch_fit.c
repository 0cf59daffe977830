// SPDX-License-Identifier: GPL-3.0-or-later
// Constants of a whole test: Q_e of a coupler that was not moved, and Q_t of the pickup.
//
// Generalised least squares. The rows are ln Q_e, ln Q_t and the reflection less that of the
// emitted power of each reading on one side of critical coupling, whitened by the errors of that
// reading alone. The unknowns are both constants and the errors that all readings share, these
// about 0 with variance 1. A reading maps onto its rows without loss on either side, so the
// densities of both sides compare by chi squared alone.
#include "coldtest/branch_fit.h"

#include <string.h>

// Readings that are stated to be exact repeat no better than this, relative: without it nothing
// would tell a rounding from a contradiction.
static const double FINEST_READING = 3e-4;

/** A number of a reading before it is whitened. */
typedef struct equation {
  cavum_dual number;  // Without the constant: its value is expected to be that.
  int constant;       // 0 Q_e, 1 Q_t, -1: none.
  double of_pickup;   // What ln Q_t adds to it.
} equation;

static cavum_dual logarithm(const cavum_dual *x, double origin) {
  return cavum_dual_chain(log(x->value / origin), 1.0 / x->value, x, 0.0, x);
}

static double own_covariance(const cavum_dual *x, const cavum_dual *y) {
  double sum = 0.0;
  for (int i = CAVUM_FIRST_LOCAL_INPUT; i < CAVUM_NUM_INPUTS; i++) sum += x->part[i] * y->part[i];
  return sum;
}

static cavum_fit_row row_of(const cavum_branch_fit *fit, const equation *e) {
  cavum_fit_row row = {.value = e->number.value};
  if (e->constant >= 0) row.factor[e->constant] = 1.0;
  row.factor[1] += e->of_pickup;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) {
    if (fit->unknown_of[i] >= 0) row.factor[fit->unknown_of[i]] += e->number.part[i];
  }
  return row;
}

// row := (row - sum of share times earlier rows) / scale.
static void take_away(cavum_fit_row *row, double share, const cavum_fit_row *other, int unknowns) {
  row->value -= share * other->value;
  for (int i = 0; i < unknowns; i++) row->factor[i] -= share * other->factor[i];
}

static void divide(cavum_fit_row *row, double by, int unknowns) {
  row->value /= by;
  for (int i = 0; i < unknowns; i++) row->factor[i] /= by;
}

// Rows with unit covariance: the equations times the inverse Cholesky factor of their own one.
static void whiten(cavum_fit_side *side, const cavum_branch_fit *fit, const equation *equations,
                   int count) {
  double factor[CAVUM_FIT_MOST_ROWS][CAVUM_FIT_MOST_ROWS] = {{0.0}};
  side->num_rows = count;
  for (int i = 0; i < count; i++) {
    side->row[i] = row_of(fit, &equations[i]);
    for (int j = 0; j <= i; j++) {
      double sum = own_covariance(&equations[i].number, &equations[j].number);
      if (i == j) sum += FINEST_READING * FINEST_READING;
      for (int k = 0; k < j; k++) sum -= factor[i][k] * factor[j][k];
      factor[i][j] = i == j ? sqrt(sum) : sum / factor[j][j];
      if (j < i) take_away(&side->row[i], factor[i][j], &side->row[j], fit->num_unknowns);
    }
    divide(&side->row[i], factor[i][i], fit->num_unknowns);
  }
}

// Q_e about the stated one, whose uncertainty is that of EXTERNAL.
static equation external_equation(const cavum_branch_fit *fit, const cavum_inverted *inverted,
                                  bool by_decay) {
  cavum_dual external = cavum_coldtest_share_phase(inverted->result[CAVUM_QUANTITY_Q_EXTERNAL]);
  equation e = {.number = logarithm(&external, fit->origin[0])};
  if (fit->scope.stated) {
    const cavum_estimate *stated = &fit->test->setup.q_external;
    e.number.part[CAVUM_INPUT_EXTERNAL] = stated->uncertainty / stated->value;
    e.constant = -1;
  }
  // A later step was worked out with Q_t = the origin.
  e.of_pickup = by_decay ? 0.0 : -1.0;
  return e;
}

static void set_side(cavum_fit_side *side, cavum_branch_fit *fit, const cavum_inverted *inverted,
                     bool by_decay) {
  equation equations[CAVUM_FIT_MOST_ROWS];
  int count = 0;
  const cavum_dual *q0 = &inverted->result[CAVUM_QUANTITY_Q0];
  side->possible = true;
  side->log_q0 = log(q0->value);
  side->log_q0_uncertainty = cavum_dual_uncertainty(q0) / q0->value;
  const cavum_fit_scope *scope = &fit->scope;
  if (!scope->moved && !scope->of_pickup && inverted->has[CAVUM_QUANTITY_Q_EXTERNAL]) {
    equations[count++] = external_equation(fit, inverted, by_decay);
  }
  if (by_decay && !scope->of_external && inverted->has[CAVUM_QUANTITY_Q_PICKUP]) {
    cavum_dual pickup = cavum_coldtest_share_phase(inverted->result[CAVUM_QUANTITY_Q_PICKUP]);
    equations[count++] = (equation){.number = logarithm(&pickup, fit->origin[1]), .constant = 1};
  }
  if (inverted->has_mismatch && !scope->of_pickup && !scope->of_external) {
    cavum_dual mismatch = cavum_coldtest_share_phase(inverted->mismatch);
    equations[count++] = (equation){.number = mismatch, .constant = -1};
  }
  for (int i = 0; i < count; i++) {
    bool certain = !(own_covariance(&equations[i].number, &equations[i].number) > 0.0);
    fit->no_uncertainty = fit->no_uncertainty || certain;
  }
  whiten(side, fit, equations, count);
}

static bool invert_on(cavum_inverted *inverted, const cavum_branch_fit *fit, int64_t index,
                      bool by_decay, cavum_branch branch) {
  if (by_decay) {
    return cavum_coldtest_invert_by_decay(inverted, fit->test, branch, index, NULL) == CAVUM_OK;
  }
  cavum_dual origin = cavum_dual_constant(fit->origin[1]);
  return cavum_coldtest_invert_step(inverted, fit->test, &origin, branch, index, NULL) == CAVUM_OK;
}

// False: no side of it is possible, or it says nothing.
static bool set_reading(cavum_fit_reading *reading, cavum_branch_fit *fit, int64_t index,
                        bool by_decay) {
  static const cavum_branch BRANCHES[] = {CAVUM_BRANCH_OVER, CAVUM_BRANCH_UNDER};
  const cavum_coldtest_reading *read = &fit->test->readings.items[index];
  cavum_branch only = fit->scope.only;
  cavum_branch stated =
      only == CAVUM_BRANCH_DECIDE ? cavum_coldtest_stated_branch(fit->test, index) : only;
  *reading = (cavum_fit_reading){.index = index, .by_decay = by_decay};
  reading->has_emitted = !isnan(read->power_w[CAVUM_CHANNEL_EMITTED]);
  for (int s = 0; s < 2; s++) {
    cavum_inverted inverted;
    if (stated != CAVUM_BRANCH_DECIDE && stated != BRANCHES[s]) continue;
    if (!invert_on(&inverted, fit, index, by_decay, BRANCHES[s])) continue;
    // With the coupling from the emitted power that alone has the side.
    if (inverted.branch != BRANCHES[s]) continue;
    if (by_decay && !(fit->origin[0] > 0.0)) {
      fit->origin[0] = inverted.result[CAVUM_QUANTITY_Q_EXTERNAL].value;
    }
    if (by_decay && !(fit->origin[1] > 0.0) && inverted.has[CAVUM_QUANTITY_Q_PICKUP]) {
      fit->origin[1] = inverted.result[CAVUM_QUANTITY_Q_PICKUP].value;
    }
    reading->q_loaded = inverted.has[CAVUM_QUANTITY_Q_LOADED]
                            ? inverted.result[CAVUM_QUANTITY_Q_LOADED].value
                            : 0.0;
    set_side(&reading->side[s], fit, &inverted, by_decay);
  }
  bool over = reading->side[CAVUM_FIT_OVER].possible, under = reading->side[1].possible;
  reading->fixed = !over || !under;
  reading->fixed_side = over ? CAVUM_FIT_OVER : CAVUM_FIT_UNDER;
  return over || under;
}

bool cavum_branch_fit_read(cavum_fit_reading *reading, const cavum_branch_fit *fit, int64_t index) {
  cavum_branch_fit copy = *fit;
  return set_reading(reading, &copy, index, true);
}

static bool is_wanted(const cavum_branch_fit *fit, int64_t index, bool by_decay) {
  const cavum_coldtest_reading *reading = &fit->test->readings.items[index];
  if (isnan(reading->decay_time_s) == by_decay) return false;
  return by_decay || !isnan(reading->power_w[CAVUM_CHANNEL_TRANSMITTED]);
}

// Readings with a decay time, or later steps, at most `room` of them.
static void add_readings(cavum_branch_fit *fit, bool by_decay, int room) {
  int64_t count = 0, asked = 0;
  for (int64_t i = 0; i < fit->test->readings.num_readings; i++)
    count += is_wanted(fit, i, by_decay);
  int64_t stride = room > 0 ? (count + room - 1) / room : 0;
  for (int64_t i = 0; stride > 0 && i < fit->test->readings.num_readings; i++) {
    if (!is_wanted(fit, i, by_decay) || asked++ % stride != 0) continue;
    if (set_reading(&fit->readings[fit->count], fit, i, by_decay)) fit->count++;
  }
}

static void number_unknowns(cavum_branch_fit *fit) {
  fit->num_unknowns = 2;
  for (int i = 0; i < CAVUM_FIRST_LOCAL_INPUT; i++) {
    bool used = fit->test->inputs.uncertainty[i] > 0.0;
    used = used && i != CAVUM_INPUT_PICKUP && i != CAVUM_INPUT_EXTERNAL;
    used = used || (i == CAVUM_INPUT_EXTERNAL && fit->scope.stated);
    fit->unknown_of[i] = used ? fit->num_unknowns++ : -1;
  }
}

cavum_status cavum_branch_fit_create(cavum_branch_fit *fit, const cavum_coldtest *test,
                                     cavum_fit_scope scope, cavum_error *error) {
  cavum_branch_fit made = {.test = test, .scope = scope};
  made.readings = cavum_alloc(CAVUM_FIT_MOST_READINGS, sizeof *made.readings);
  if (!made.readings) return cavum_fail_memory(error);
  if (scope.stated) made.origin[0] = test->setup.q_external.value;
  number_unknowns(&made);
  add_readings(&made, true, CAVUM_FIT_MOST_READINGS);
  if (scope.later_steps && made.origin[1] > 0.0) {
    add_readings(&made, false, CAVUM_FIT_MOST_READINGS - made.count);
  }
  *fit = made;
  return CAVUM_OK;
}

void cavum_branch_fit_clear(cavum_branch_fit *fit) {
  free(fit->readings);
  *fit = (cavum_branch_fit){0};
}

/** Normal equations; the lower triangle of the matrix is used. */
typedef struct normal_equations {
  double matrix[CAVUM_FIT_MOST_UNKNOWNS][CAVUM_FIT_MOST_UNKNOWNS];
  double right[CAVUM_FIT_MOST_UNKNOWNS];
  double squares;
} normal_equations;

static void add_row(normal_equations *n, const cavum_fit_row *r, int unknowns) {
  for (int i = 0; i < unknowns; i++) {
    if (r->factor[i] == 0.0) continue;
    for (int j = 0; j <= i; j++) n->matrix[i][j] += r->factor[i] * r->factor[j];
    n->right[i] += r->factor[i] * r->value;
  }
  n->squares += r->value * r->value;
}

static void factorise(normal_equations *n, int unknowns) {
  for (int i = 0; i < unknowns; i++) {
    for (int j = 0; j <= i; j++) {
      double sum = n->matrix[i][j];
      for (int k = 0; k < j; k++) sum -= n->matrix[i][k] * n->matrix[j][k];
      n->matrix[i][j] = i == j ? sqrt(cavum_max(sum, 1e-300)) : sum / n->matrix[j][j];
    }
  }
}

// The least sum of squares: the squares less |L^-1 right|^2 with L the factor of the matrix.
static double solve(double *x, normal_equations *n, int unknowns) {
  double left = n->squares;
  for (int i = 0; i < unknowns; i++) {
    x[i] = n->right[i];
    for (int k = 0; k < i; k++) x[i] -= n->matrix[i][k] * x[k];
    x[i] /= n->matrix[i][i];
    left -= x[i] * x[i];
  }
  for (int i = unknowns - 1; i >= 0; i--) {
    for (int k = i + 1; k < unknowns; k++) x[i] -= n->matrix[k][i] * x[k];
    x[i] /= n->matrix[i][i];
  }
  return cavum_max(left, 0.0);
}

double cavum_branch_fit_evaluate(const cavum_branch_fit *fit, const cavum_fit_sides *sides,
                                 double solution[CAVUM_FIT_MOST_UNKNOWNS]) {
  normal_equations n;
  double x[CAVUM_FIT_MOST_UNKNOWNS];
  int unknowns = fit->num_unknowns;
  for (int i = 0; i < unknowns; i++) {
    memset(n.matrix[i], 0, (size_t)unknowns * sizeof n.matrix[i][0]);
    n.matrix[i][i] = i < 2 ? 0.0 : 1.0;
    n.right[i] = 0.0;
  }
  n.squares = 0.0;
  for (int i = 0; i < fit->count; i++) {
    const cavum_fit_side *side = &fit->readings[i].side[sides->of[i]];
    if (fit->readings[i].left_out) continue;
    for (int k = 0; k < side->num_rows; k++) add_row(&n, &side->row[k], unknowns);
  }
  for (int i = 0; i < 2; i++) {
    if (n.matrix[i][i] == 0.0) n.matrix[i][i] = 1.0;
  }
  factorise(&n, unknowns);
  return solve(solution ? solution : x, &n, unknowns);
}

double cavum_branch_fit_misfit(const cavum_branch_fit *fit, const cavum_fit_side *side,
                               const double solution[CAVUM_FIT_MOST_UNKNOWNS]) {
  double sum = 0.0;
  for (int k = 0; k < side->num_rows; k++) {
    double off = side->row[k].value;
    for (int i = 0; i < fit->num_unknowns; i++) off -= side->row[k].factor[i] * solution[i];
    sum += off * off;
  }
  return sum;
}

int cavum_branch_fit_freedom(const cavum_branch_fit *fit, const cavum_fit_sides *sides) {
  int rows = 0;
  bool used[2] = {false, false};
  for (int i = 0; i < fit->count; i++) {
    const cavum_fit_side *side = &fit->readings[i].side[sides->of[i]];
    if (fit->readings[i].left_out) continue;
    rows += side->num_rows;
    for (int k = 0; k < side->num_rows; k++) {
      for (int c = 0; c < 2; c++) used[c] = used[c] || side->row[k].factor[c] != 0.0;
    }
  }
  return rows - used[0] - used[1];
}
