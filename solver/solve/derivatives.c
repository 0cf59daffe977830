// SPDX-License-Identifier: GPL-3.0-or-later
// From the modes of a solution to derivatives of figures by dimensions.
#include "solve/derivatives.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "cell/dimension.h"
#include "fem/form_gradient.h"
#include "solve/figure_policy.h"

// Modes of one symmetry closer than this, relative in k^2, are told apart by rounding alone.
static const double DEGENERATE = 1e-8;
// Rounding of a derivative, of the sum of the sizes of what it is the sum of.
static const double ROUNDING = 1e-11;

static const char *const REASON_SHAPE = "the contour does not change smoothly with it";
static const char *const REASON_DEGENERATE = "another mode has the same frequency";

// How everything moves with the dimensions.
typedef struct motion {
  cavum_cell_dimensions dimensions;  // owned
  cavum_index num_curves;
  cavum_curve_rate *rates;  // owned, [count][num_curves]
  cavum_cell_rate *others;  // owned, [count]
  bool *smooth;             // owned, [count]
} motion;

static void clear_motion(motion *m) {
  cavum_cell_dimensions_clear(&m->dimensions);
  free(m->rates);
  free(m->others);
  free(m->smooth);
}

static cavum_status make_motion(motion *m, const cavum_problem *s, cavum_error *error) {
  const cavum_mesh *mesh = &s->memory->mesh;
  const cavum_contour contour = {mesh->num_curves, mesh->curves};
  cavum_cell_part part = s->half_model ? CAVUM_PART_RIGHT : CAVUM_PART_WHOLE;
  cavum_status status = cavum_cell_dimensions_list(&m->dimensions, s->cell, error);
  if (status != CAVUM_OK) return status;
  int count = m->dimensions.count;
  m->num_curves = mesh->num_curves;
  m->rates = cavum_alloc((int64_t)count * mesh->num_curves, sizeof *m->rates);
  m->others = cavum_alloc(count, sizeof *m->others);
  m->smooth = cavum_alloc(count, sizeof *m->smooth);
  if (!m->rates || !m->others || !m->smooth) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    m->smooth[i] = cavum_cell_dimension_rate(m->rates + (int64_t)i * m->num_curves, &m->others[i],
                                             &contour, s->cell, part, &m->dimensions.list[i]);
  }
  return CAVUM_OK;
}

static cavum_status fill_dimensions(cavum_result *result, const motion *m, cavum_error *error) {
  int count = m->dimensions.count;
  result->dimensions = cavum_alloc(count, sizeof *result->dimensions);
  if (!result->dimensions) return cavum_fail_memory(error);
  result->num_dimensions = count;
  for (int i = 0; i < count; i++) {
    const cavum_cell_dimension *from = &m->dimensions.list[i];
    cavum_dimension *to = &result->dimensions[i];
    memcpy(to->key, from->key, sizeof to->key);
    to->unit = from->unit == CAVUM_UNIT_SI ? "1" : cavum_unit_symbol(from->unit);
    to->value_si = from->value;
    to->unit_si = cavum_from_unit(1.0, from->unit);
  }
  return CAVUM_OK;
}

// Some other mode of the same symmetry has the same frequency.
static bool is_degenerate(const cavum_modes *modes, int index) {
  double own = modes->k2_per_m2[index];
  for (int i = 0; i < modes->count; i++) {
    if (i != index && fabs(modes->k2_per_m2[i] - own) < DEGENERATE * own) return true;
  }
  return false;
}

// Histories of all derivatives of one mode, by dimension and figure.
typedef struct mode_work {
  cavum_mesh_gradient gradient;
  cavum_history (*history)[CAVUM_NUM_FIGURES];  // owned, [dimensions]
} mode_work;

static void clear_work(mode_work *w) {
  cavum_mesh_gradient_clear(&w->gradient);
  free(w->history);
}

// d(k^2) = x^T (dK - k^2 dM) x.
static cavum_status differentiate_k2(mode_work *w, const cavum_problem *s,
                                     const cavum_point_values *x, double k2_per_m2,
                                     cavum_error *error) {
  const cavum_form form = {.x = x, .u = x, .mass_u = k2_per_m2};
  cavum_mesh_gradient_reset(&w->gradient);
  cavum_status status =
      cavum_form_gradient_add(&w->gradient, &s->ladder.solution->discretisation, &form, error);
  if (status == CAVUM_OK) cavum_mesh_gradient_gather(&w->gradient, &s->memory->follower);
  return status;
}

// Takes in one degree of one mode.
static cavum_status take_degree(mode_work *w, const cavum_problem *s, const motion *m, int mode,
                                int below, cavum_error *error) {
  const cavum_solution *solution = s->ladder.solution;
  const cavum_solution_mode *of = &solution->modes[mode];
  const cavum_modes *modes = &solution->classes[of->in_class].modes[below];
  const double *vector = modes->vectors + (int64_t)of->index * modes->num_unknowns;
  double k2 = modes->k2_per_m2[of->index], vector_error = modes->vector_error[of->index];
  cavum_point_values x = {0};
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(cavum_point_values_create(&x, &solution->discretisation, vector, error));
  CAVUM_TRY(differentiate_k2(w, s, &x, k2, error));
  double to_frequency = CAVUM_C_M_PER_S / (4.0 * CAVUM_PI * sqrt(k2));
  for (int i = 0; i < m->dimensions.count; i++) {
    double size,
        sum = cavum_mesh_gradient_dot(&size, &w->gradient, m->rates + (int64_t)i * m->num_curves);
    cavum_history_add(&w->history[i][CAVUM_FIGURE_FREQUENCY], to_frequency * sum, 0.0,
                      to_frequency * size * (2.0 * vector_error + ROUNDING));
  }
done:
  cavum_point_values_clear(&x);
  return status;
}

static void fill_derivative(cavum_derivative *to, const cavum_history *history) {
  int last = history->count - 1;
  if (last < 0) return;
  to->state = CAVUM_FIGURE_PRESENT;
  to->value = history->value[last];
  to->uncertainty = cavum_uncertainty_of_last(history, CAVUM_CONVERGENCE_SIGNED, 0.0) +
                    history->iteration_error[last];
}

static void fill_mode(cavum_mode_result *mode, const mode_work *w, const motion *m,
                      const char *reason) {
  for (int i = 0; i < m->dimensions.count; i++) {
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      cavum_derivative *to = &mode->derivatives[(int64_t)i * CAVUM_FIGURES_ROOM + id];
      if (mode->figures[id].state != CAVUM_FIGURE_PRESENT) continue;
      to->reason = m->smooth[i] ? reason : REASON_SHAPE;
      if (!to->reason) fill_derivative(to, &w->history[i][id]);
    }
  }
}

static cavum_status differentiate_mode(cavum_problem *s, const motion *m, int mode,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = s->ladder.solution;
  const cavum_solution_mode *of = &solution->modes[mode];
  cavum_mode_result *to = &s->result->modes[mode];
  mode_work w = {0};
  int count = m->dimensions.count;
  to->derivatives = cavum_alloc((int64_t)count * CAVUM_FIGURES_ROOM, sizeof *to->derivatives);
  w.history = cavum_alloc(count, sizeof *w.history);
  if (!to->derivatives || !w.history) CAVUM_TRY(cavum_fail_memory(error));
  if (is_degenerate(&solution->classes[of->in_class].modes[0], of->index)) {
    fill_mode(to, &w, m, REASON_DEGENERATE);
    goto done;
  }
  CAVUM_TRY(cavum_mesh_gradient_create(&w.gradient, &s->memory->mesh, error));
  for (int below = solution->num_degrees - 1; below >= 0; below--) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(take_degree(&w, s, m, mode, below, error));
  }
  fill_mode(to, &w, m, NULL);
done:
  clear_work(&w);
  return status;
}

// What moves a mesh is made when it is first needed.
static cavum_status prepare_follower(cavum_problem_memory *memory, cavum_error *error) {
  if (memory->can_follow) return CAVUM_OK;
  cavum_mesh_follower_clear(&memory->follower);
  cavum_status status = cavum_mesh_follower_create(&memory->follower, &memory->mesh, error);
  memory->can_follow = status == CAVUM_OK;
  return status;
}

cavum_status cavum_derivatives_add(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  motion m = {0};
  if (s->memory->mesh.node_order > 0) return CAVUM_OK;
  CAVUM_TRY(prepare_follower(s->memory, error));
  CAVUM_TRY(make_motion(&m, s, error));
  CAVUM_TRY(fill_dimensions(s->result, &m, error));
  for (int mode = 0; mode < s->result->num_modes; mode++) {
    CAVUM_TRY(differentiate_mode(s, &m, mode, error));
  }
done:
  clear_motion(&m);
  return status;
}
