// SPDX-License-Identifier: GPL-3.0-or-later
// Newton steps of least change within bounds: an active set of bounds around pseudo-inverses.
#include "design/tune_step.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_linalg.h>
#include <math.h>
#include <string.h>

#include "base/alone.h"
#include "base/base.h"

// Singular values below this part of the largest count as none: rounding of derivatives, which are
// good to a part in 1e8 and better, is no way to reach a figure.
static const double SINGULAR = 1e-7;
// The curvature is used where it changes the step by less than this part of it: beyond, what it
// leaves out counts as much.
static const double MOST_CURVATURE = 0.5;
// Misses left by a step, relative to those before it, that count as met.
static const double MET = 1e-6;
enum { CURVATURE_PASSES = 20 };

double cavum_tune_miss(const cavum_tune_task *task, const double *figure) {
  double most = 0.0;
  for (int i = 0; i < task->num_figures; i++) {
    most = cavum_max(most, fabs(figure[i] - task->target[i]) / task->size[i]);
  }
  return most;
}

/** Scaled linear equations: matrix y = right, of least |y|. */
typedef struct equations {
  int num_rows, num_columns;
  double matrix[CAVUM_TUNE_MOST][CAVUM_TUNE_MOST];
  double right[CAVUM_TUNE_MOST];
} equations;

// y of least length among those of least |matrix y - right|, by the singular values of the matrix
// or of its transpose, whichever has more rows than columns.
static void solve_least(double *y, const equations *e) {
  enum { MOST = CAVUM_TUNE_MOST };
  double u_data[MOST * MOST], v_data[MOST * MOST], s[MOST], work[MOST];
  bool wide = e->num_columns > e->num_rows;
  size_t rows = (size_t)(wide ? e->num_columns : e->num_rows);
  size_t columns = (size_t)(wide ? e->num_rows : e->num_columns);
  memset(y, 0, (size_t)e->num_columns * sizeof *y);
  if (columns == 0) return;
  gsl_matrix_view u = gsl_matrix_view_array(u_data, rows, columns);
  gsl_matrix_view v = gsl_matrix_view_array(v_data, columns, columns);
  gsl_vector_view values = gsl_vector_view_array(s, columns);
  gsl_vector_view space = gsl_vector_view_array(work, columns);
  for (size_t i = 0; i < rows; i++) {
    for (size_t j = 0; j < columns; j++) {
      u_data[i * columns + j] = wide ? e->matrix[j][i] : e->matrix[i][j];
    }
  }
  // GSL's default handler would end the process.
  cavum_alone_enter(CAVUM_ALONE_GSL);
  gsl_error_handler_t *handler = gsl_set_error_handler_off();
  int code = gsl_linalg_SV_decomp(&u.matrix, &v.matrix, &values.vector, &space.vector);
  gsl_set_error_handler(handler);
  cavum_alone_leave(CAVUM_ALONE_GSL);
  if (code != GSL_SUCCESS) return;
  // matrix = U S V^T, or its transpose is: left and right vectors change places.
  for (size_t k = 0; k < columns && s[k] > SINGULAR * s[0]; k++) {
    double along = 0.0;
    for (int i = 0; i < e->num_rows; i++) {
      along += (wide ? v_data : u_data)[(size_t)i * columns + k] * e->right[i];
    }
    for (int j = 0; j < e->num_columns; j++) {
      y[j] += along / s[k] * (wide ? u_data : v_data)[(size_t)j * columns + k];
    }
  }
}

/** The figures along a step: value, slope, and what two places tell of the curvature. */
typedef struct model {
  const cavum_tune_task *task;
  const cavum_tune_point *here, *before;  // before: NULL without one
  double last[CAVUM_TUNE_MOST];           // here less before
  double last2;                           // its square over the scales
} model;

static void start_model(model *m) {
  if (!m->before) return;
  for (int j = 0; j < m->task->num_dimensions; j++) {
    m->last[j] = m->here->x[j] - m->before->x[j];
    m->last2 += m->last[j] / m->task->scale[j] * (m->last[j] / m->task->scale[j]);
  }
  if (!(m->last2 > 0.0)) m->before = NULL;
}

// What a figure changes by along a step beyond its slope: with p the step before and s = a p + o
// this one, s H s / 2 + a^3 T / 6, where H p comes from the change of the slopes and p H p, T p p p
// from both values and slopes; o H o is not known.
static double curvature(const model *m, int figure, const double *step) {
  const cavum_tune_point *here = m->here, *before = m->before;
  if (!before) return 0.0;
  double slope = 0.0, change_last = 0.0, change_step = 0.0, part = 0.0;
  for (int j = 0; j < m->task->num_dimensions; j++) {
    double change = here->slope[figure][j] - before->slope[figure][j];
    slope += here->slope[figure][j] * m->last[j];
    change_last += change * m->last[j];
    change_step += change * step[j];
    part += m->last[j] * step[j] / (m->task->scale[j] * m->task->scale[j]);
  }
  part /= m->last2;
  double third = 12.0 * (before->figure[figure] - here->figure[figure] + slope - 0.5 * change_last);
  double bent = 2.0 * part * change_step - part * part * (change_last - 0.5 * third);
  return 0.5 * bent + part * part * part * third / 6.0;
}

// Linear equations for the change from the origin of the free dimensions, the others being at their
// bounds; `extra` is what the figures change by beyond their slopes.
static void fill(equations *e, const model *m, const bool *fixed, const double *value,
                 const double *extra) {
  const cavum_tune_task *task = m->task;
  *e = (equations){.num_rows = task->num_figures};
  for (int j = 0; j < task->num_dimensions; j++) {
    if (!fixed[j]) e->num_columns++;
  }
  for (int i = 0; i < task->num_figures; i++) {
    int column = 0;
    double right = task->target[i] - m->here->figure[i] - extra[i];
    for (int j = 0; j < task->num_dimensions; j++) {
      double slope = m->here->slope[i][j], from = fixed[j] ? value[j] : task->origin[j];
      right -= slope * (from - m->here->x[j]);
      if (!fixed[j]) e->matrix[i][column++] = slope * task->scale[j] / task->size[i];
    }
    e->right[i] = right / task->size[i];
  }
}

// The dimension that is farthest out of its bounds, in scales; -1: none.
static int farthest_out(const cavum_tune_task *task, const bool *fixed, const double *value) {
  int worst = -1;
  double most = 0.0;
  for (int j = 0; j < task->num_dimensions; j++) {
    double out = cavum_max(task->low[j] - value[j], value[j] - task->high[j]) / task->scale[j];
    if (fixed[j] || !(out > most)) continue;
    most = out;
    worst = j;
  }
  return worst;
}

static void linear_step(double *next, const model *m, const double *extra) {
  const cavum_tune_task *task = m->task;
  bool fixed[CAVUM_TUNE_MOST] = {false};
  equations e;
  double y[CAVUM_TUNE_MOST];
  for (int round = 0; round <= task->num_dimensions; round++) {
    fill(&e, m, fixed, next, extra);
    solve_least(y, &e);
    int column = 0;
    for (int j = 0; j < task->num_dimensions; j++) {
      if (!fixed[j]) next[j] = task->origin[j] + task->scale[j] * y[column++];
    }
    int out = farthest_out(task, fixed, next);
    if (out < 0) return;
    next[out] = cavum_min(cavum_max(next[out], task->low[out]), task->high[out]);
    fixed[out] = true;
  }
}

// Largest miss that a step leaves by its slopes and `extra`.
static double left_over(const model *m, const double *next, const double *extra) {
  double figure[CAVUM_TUNE_MOST];
  for (int i = 0; i < m->task->num_figures; i++) {
    figure[i] = m->here->figure[i] + extra[i];
    for (int j = 0; j < m->task->num_dimensions; j++) {
      figure[i] += m->here->slope[i][j] * (next[j] - m->here->x[j]);
    }
  }
  return cavum_tune_miss(m->task, figure);
}

// Curvature of all figures along the way to `next`; false where it is too much to be trusted.
static bool bend(double *extra, const model *m, const double *next) {
  double step[CAVUM_TUNE_MOST], most = 0.0;
  for (int j = 0; j < m->task->num_dimensions; j++) step[j] = next[j] - m->here->x[j];
  for (int i = 0; i < m->task->num_figures; i++) {
    extra[i] = curvature(m, i, step);
    most = cavum_max(most, fabs(extra[i]) / m->task->size[i]);
  }
  return most <= MOST_CURVATURE * cavum_tune_miss(m->task, m->here->figure);
}

bool cavum_tune_step(double *next, const cavum_tune_task *task, const cavum_tune_point *here,
                     const cavum_tune_point *before) {
  model m = {.task = task, .here = here, .before = before};
  double extra[CAVUM_TUNE_MOST] = {0.0}, straight[CAVUM_TUNE_MOST];
  start_model(&m);
  memcpy(next, here->x, sizeof here->x[0] * (size_t)task->num_dimensions);
  linear_step(next, &m, extra);
  memcpy(straight, next, sizeof straight[0] * (size_t)task->num_dimensions);
  for (int pass = 0; pass < CURVATURE_PASSES && m.before; pass++) {
    if (!bend(extra, &m, next)) {
      memset(extra, 0, sizeof extra);
      memcpy(next, straight, sizeof straight[0] * (size_t)task->num_dimensions);
      break;
    }
    linear_step(next, &m, extra);
  }
  return left_over(&m, next, extra) <= MET * cavum_tune_miss(task, here->figure);
}
