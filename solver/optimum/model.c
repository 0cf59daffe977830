// SPDX-License-Identifier: GPL-3.0-or-later
// The subproblem by the dual active-set method [GoldfarbIdnani1983]: from the least value without
// any row, rows that are broken are taken in one by one, so that it ends with exact multipliers
// also where a step is a corner of its rows, as it is where peaks compete.
#include "optimum/model.h"

#include <math.h>
#include <string.h>

#include "base/base.h"

enum {
  MOST_UNKNOWNS = CAVUM_GOAL_MOST_VARIABLES + CAVUM_MODEL_MOST_BOUNDS + 1,
  MOST_EXCHANGES = 2000,
  MOST_PASSES = 20
};
// Curvature of t and s about their last values, over what they cost, so that there is a least value
// without rows. It is solved again until these stay where they are (proximal points), so that it
// changes nothing.
static const double BOUND_CURVATURE = 1e-2, SETTLED = 1e-13;
// What is rounding of a row, and of the part of a normal that others do not span.
static const double ROUNDING = 1e-10, SPANNED = 1e-9;

// Unknowns: d, t, s.
static int num_unknowns(const cavum_model *m) { return m->num_variables + m->num_bounds + 1; }

// Inequalities: rows, low and high of each variable in turn, s >= 0.
static int num_items(const cavum_model *m) { return m->num_rows + 2 * m->num_variables + 1; }

// An inequality as normal z <= limit; returns the limit.
static double find_item(double normal[MOST_UNKNOWNS], const cavum_model *m, int item) {
  int n = m->num_variables, excess = n + m->num_bounds;
  for (int j = 0; j <= excess; j++) normal[j] = 0.0;
  if (item < m->num_rows) {
    const cavum_model_row *row = &m->rows[item];
    memcpy(normal, row->slope, (size_t)n * sizeof *normal);
    normal[row->bound < 0 ? excess : n + row->bound] = -1.0;
    return -row->constant;
  }
  item -= m->num_rows;
  if (item == 2 * n) {
    normal[excess] = -1.0;
    return 0.0;
  }
  bool high = item % 2 == 1;
  normal[item / 2] = high ? 1.0 : -1.0;
  return high ? m->high[item / 2] : -m->low[item / 2];
}

static double break_of(const cavum_model *m, const double *z, int item) {
  double normal[MOST_UNKNOWNS], sum = -find_item(normal, m, item);
  for (int j = 0; j < num_unknowns(m); j++) sum += normal[j] * z[j];
  return sum;
}

/** The method on its way. */
typedef struct dual {
  const cavum_model *m;
  int size;                                      // unknowns
  double factor[MOST_UNKNOWNS * MOST_UNKNOWNS];  // of Cholesky, of the curvature
  double z[MOST_UNKNOWNS], last[MOST_UNKNOWNS];  // where the curvature of t and s is about
  int num_active, active[MOST_UNKNOWNS];
  double multiplier[MOST_UNKNOWNS];             // of the active items
  double normal[MOST_UNKNOWNS][MOST_UNKNOWNS];  // of the active items
  double solved[MOST_UNKNOWNS][MOST_UNKNOWNS];  // curvature^-1 times these
} dual;

static double dot(const double *a, const double *b, int n) {
  double sum = 0.0;
  for (int i = 0; i < n; i++) sum += a[i] * b[i];
  return sum;
}

// Factor of Cholesky in place, lower triangle; false where a pivot is not above 0.
static bool factorise(double *a, int n) {
  for (int j = 0; j < n; j++) {
    double pivot = a[j * n + j] - dot(a + j * n, a + j * n, j);
    if (!(pivot > 0.0)) return false;
    a[j * n + j] = sqrt(pivot);
    for (int i = j + 1; i < n; i++) {
      a[i * n + j] = (a[i * n + j] - dot(a + i * n, a + j * n, j)) / a[j * n + j];
    }
  }
  return true;
}

static void solve_factorised(double *x, const double *a, int n) {
  for (int i = 0; i < n; i++) x[i] = (x[i] - dot(a + i * n, x, i)) / a[i * n + i];
  for (int i = n - 1; i >= 0; i--) {
    for (int j = i + 1; j < n; j++) x[i] -= a[j * n + i] * x[j];
    x[i] /= a[i * n + i];
  }
}

// x = curvature^-1 b.
static void solve_curvature(double *x, const dual *d, const double *b) {
  memcpy(x, b, (size_t)d->size * sizeof *x);
  solve_factorised(x, d->factor, d->size);
}

// Minus what an unknown costs.
static double down_of(const cavum_model *m, int i) {
  int n = m->num_variables;
  return i < n ? -m->gradient[i] : i < n + m->num_bounds ? -m->weight[i - n] : -m->penalty;
}

// The least value without rows.
static bool begin(dual *d) {
  const cavum_model *m = d->m;
  int n = m->num_variables;
  double down[MOST_UNKNOWNS];
  d->size = num_unknowns(m);
  d->num_active = 0;
  for (int i = 0; i < d->size; i++) {
    for (int j = 0; j < d->size; j++) {
      d->factor[i * d->size + j] = i < n && j < n ? m->curvature[i][j] : 0.0;
    }
    down[i] = down_of(m, i);
    if (i < n) continue;
    d->factor[i * d->size + i] = -BOUND_CURVATURE * down[i];
    down[i] *= 1.0 - BOUND_CURVATURE * d->last[i];
  }
  if (!factorise(d->factor, d->size)) return false;
  solve_curvature(d->z, d, down);
  return true;
}

// Multipliers of the active items by which a new normal is left with what they do not span.
static bool project(double *parts, double *rest, const dual *d, const double *normal,
                    const double *solved) {
  int q = d->num_active;
  double gram[MOST_UNKNOWNS * MOST_UNKNOWNS];
  for (int i = 0; i < q; i++) {
    parts[i] = dot(d->normal[i], solved, d->size);
    for (int j = 0; j < q; j++) gram[i * q + j] = dot(d->normal[i], d->solved[j], d->size);
  }
  if (q > 0 && !factorise(gram, q)) return false;
  solve_factorised(parts, gram, q);
  memcpy(rest, solved, (size_t)d->size * sizeof *rest);
  for (int i = 0; i < q; i++) {
    for (int j = 0; j < d->size; j++) rest[j] -= parts[i] * d->solved[i][j];
  }
  return dot(normal, rest, d->size) > SPANNED * dot(normal, solved, d->size);
}

static void leave(dual *d, int index) {
  int last = --d->num_active;
  d->active[index] = d->active[last];
  d->multiplier[index] = d->multiplier[last];
  memcpy(d->normal[index], d->normal[last], sizeof d->normal[index]);
  memcpy(d->solved[index], d->solved[last], sizeof d->solved[index]);
}

// Takes an item in, others leaving as their multipliers come to 0. False: it cannot be.
static bool take_in(dual *d, int item) {
  double normal[MOST_UNKNOWNS], solved[MOST_UNKNOWNS], parts[MOST_UNKNOWNS], rest[MOST_UNKNOWNS];
  double multiplier = 0.0;
  (void)find_item(normal, d->m, item);
  solve_curvature(solved, d, normal);
  for (;;) {
    double broken = break_of(d->m, d->z, item), far = HUGE_VAL, length;
    int first = -1;
    bool free_to_move = project(parts, rest, d, normal, solved) && d->num_active < d->size;
    for (int k = 0; k < d->num_active; k++) {
      if (!(parts[k] > 0.0) || d->multiplier[k] / parts[k] >= far) continue;
      far = d->multiplier[k] / parts[k];
      first = k;
    }
    length = free_to_move ? broken / dot(normal, rest, d->size) : HUGE_VAL;
    double step = cavum_min(far, length);
    if (!isfinite(step)) return false;
    for (int j = 0; j < d->size && free_to_move; j++) d->z[j] -= step * rest[j];
    for (int k = 0; k < d->num_active; k++) d->multiplier[k] -= step * parts[k];
    multiplier += step;
    if (length <= far) break;
    leave(d, first);
  }
  int at = d->num_active++;
  d->active[at] = item;
  d->multiplier[at] = multiplier;
  memcpy(d->normal[at], normal, sizeof normal);
  memcpy(d->solved[at], solved, sizeof solved);
  return true;
}

static bool is_active(const dual *d, int item) {
  for (int k = 0; k < d->num_active; k++) {
    if (d->active[k] == item) return true;
  }
  return false;
}

// The item that is broken most; -1: none.
static int find_broken(const dual *d) {
  int worst = -1;
  double most = ROUNDING;
  for (int item = 0; item < num_items(d->m); item++) {
    double broken = is_active(d, item) ? 0.0 : break_of(d->m, d->z, item);
    if (!(broken > most)) continue;
    most = broken;
    worst = item;
  }
  return worst;
}

// One pass with the curvature about the last values.
static bool solve_about(dual *d) {
  bool good = begin(d);
  for (int i = 0; good && i < MOST_EXCHANGES; i++) {
    int item = find_broken(d);
    if (item < 0) break;
    good = take_in(d, item);
  }
  return good;
}

static bool is_settled(const dual *d) {
  bool settled = true;
  for (int i = d->m->num_variables; i < d->size; i++) {
    settled = settled && fabs(d->z[i] - d->last[i]) <= SETTLED;
  }
  return settled;
}

static double value_of(const cavum_model *m, const double *z) {
  int n = m->num_variables;
  double sum = m->penalty * cavum_max(z[n + m->num_bounds], 0.0);
  for (int i = 0; i < n; i++) sum += z[i] * (m->gradient[i] + 0.5 * dot(m->curvature[i], z, n));
  for (int j = 0; j < m->num_bounds; j++) sum += m->weight[j] * z[n + j];
  return sum;
}

static void hand_over(cavum_model_solution *solution, const dual *d) {
  const cavum_model *m = d->m;
  int n = m->num_variables;
  *solution = (cavum_model_solution){.excess = cavum_max(d->z[n + m->num_bounds], 0.0),
                                     .value = value_of(m, d->z)};
  for (int j = 0; j < n; j++) {
    solution->step[j] = cavum_min(cavum_max(d->z[j], m->low[j]), m->high[j]);
  }
  for (int j = 0; j < m->num_bounds; j++) solution->bound[j] = d->z[n + j];
  for (int k = 0; k < d->num_active; k++) {
    int item = d->active[k], bound = item - m->num_rows;
    if (bound < 0) solution->multiplier[item] = d->multiplier[k];
    if (bound < 0 || bound >= 2 * n) continue;
    double *of = bound % 2 == 1 ? solution->at_high : solution->at_low;
    of[bound / 2] = d->multiplier[k];
  }
}

cavum_status cavum_model_solve(cavum_model_solution *solution, const cavum_model *model,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  dual *d = cavum_alloc(1, sizeof *d);
  if (!d) return cavum_fail_memory(error);
  d->m = model;
  bool good = true, settled = false;
  for (int pass = 0; good && !settled && pass < MOST_PASSES; pass++) {
    good = solve_about(d);
    settled = is_settled(d);
    memcpy(d->last, d->z, sizeof d->last);
  }
  if (!good) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_LIBRARY, "the subproblem of a step was not solved"));
  }
  hand_over(solution, d);
done:
  free(d);
  return status;
}
