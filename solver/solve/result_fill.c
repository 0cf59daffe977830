// SPDX-License-Identifier: GPL-3.0-or-later
// From a ladder to the result that users see.
#include "solve/result_fill.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "figures/energy_mismatch.h"
#include "figures/label.h"
#include "figures/profile.h"
#include "figures/wall_density.h"
#include "solve/accuracy.h"
#include "solve/coinciding.h"
#include "solve/field_uncertainty.h"
#include "solve/figure_policy.h"
#include "solve/mesh_regions.h"
#include "solve/trace_uncertainty.h"

// What the corners do to a point of the curve: those of the figures stand at the speeds of the cell
// and of light, the others come from the axis.
static double exponent_of_point(const cavum_mode_values *values, double beta, double cell_beta) {
  bool of_figure = beta == 1.0 || fabs(beta - cell_beta) < CAVUM_SAME_BETA;
  return of_figure ? values->voltage_exponent : values->axis_exponent;
}

static double tail_of_point(const cavum_history *of_beta, const cavum_mode_values *values,
                            double exponent, const cavum_ladder *ladder) {
  const double rounding = 1e-12;
  int degree = ladder->solution->reference.degree;
  bool at_tip = exponent < values->corner_exponent;
  double tail =
      cavum_mode_history_tail(of_beta, CAVUM_CONVERGENCE_SIGNED, rounding, exponent, degree);
  if (!ladder->keeps_mesh) return tail;
  return cavum_max(tail, cavum_mode_history_ungraded(of_beta, rounding, exponent, at_tip, degree));
}

static cavum_status fill_beta_curve(cavum_beta_curve *curve, const cavum_problem *s, int m,
                                    cavum_error *error) {
  const cavum_solution *solution = s->ladder.solution;
  const cavum_mode_values *values = &solution->modes[m].values[0];
  const cavum_mode_history *history = &s->ladder.history[m];
  double w = 2.0 * CAVUM_PI * values->figures[CAVUM_FIGURE_FREQUENCY].value;
  double constants = cavum_figure_policy_of(CAVUM_FIGURE_R_OVER_Q_LINAC)->constant_error;
  if (!(values->terms_v > 0.0)) return CAVUM_OK;
  curve->beta = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->voltage_v = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->r_over_q_linac_ohm = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->uncertainty_ohm = cavum_alloc(CAVUM_BETA_POINTS, sizeof(double));
  curve->num_points = CAVUM_BETA_POINTS;
  if (!curve->beta || !curve->voltage_v || !curve->r_over_q_linac_ohm || !curve->uncertainty_ohm) {
    return cavum_fail_memory(error);
  }
  for (int i = 0; i < CAVUM_BETA_POINTS; i++) {
    double v = values->voltage_of_beta[i];
    const cavum_history *of_beta = &history->voltage_of_beta[i];
    double beta = cavum_mode_beta_point(i);
    double dv =
        tail_of_point(of_beta, values, exponent_of_point(values, beta, s->cell->beta), &s->ladder) +
        of_beta->iteration_error[of_beta->count - 1];
    curve->beta[i] = beta;
    curve->voltage_v[i] = v;
    curve->r_over_q_linac_ohm[i] = v * v / w;
    curve->uncertainty_ohm[i] = ((2.0 * v + dv) * dv + constants * v * v) / w;
  }
  return CAVUM_OK;
}

static cavum_status fill_mode(cavum_problem *s, int m, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_solution *solution = s->ladder.solution;
  const cavum_solution_mode *from = &solution->modes[m];
  const cavum_solution_class *class = &solution->classes[from->in_class];
  cavum_mode_result *mode = &s->result->modes[m];
  cavum_view view = cavum_solution_view(solution, m, 0, &s->memory->boundary);
  CAVUM_TRY(cavum_label_mode(mode->label, &view, error));
  mode->parity = class->parity;
  mode->k2_per_m2 = from->k2_per_m2;
  mode->energy_mismatch = -1.0;  // until cavum_result_fill_energies()
  memcpy(mode->figures, from->values[0].figures, sizeof from->values[0].figures);
  mode->accuracy_reached = true;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    mode->accuracy_reached =
        mode->accuracy_reached &&
        cavum_accuracy_is_reached(&from->values[0], (cavum_figure_id)id, s->cell);
  }
  CAVUM_TRY(
      cavum_modes_residual(&mode->residual, &class->modes[0], from->index, &class->pencil, error));
  if (s->options->profiles && !s->memory->densities_alone) {
    CAVUM_TRY(fill_beta_curve(&mode->beta_curve, s, m, error));
    CAVUM_TRY(cavum_profile_fill_axis(&mode->axis, &view, error));
    CAVUM_TRY(cavum_profile_fill_wall(&mode->wall, &view, error));
    CAVUM_TRY(cavum_trace_uncertainty_fill(mode, s, m, error));
  }
  if (s->options->profiles) {
    CAVUM_TRY(cavum_wall_density_fill(&mode->wall_density, &view, error));
  }
  if (s->options->field_order != 0) {
    int order = s->options->field_order;
    if (order < 0) order = cavum_profile_choose_order(&s->memory->mesh, s->result->degree);
    CAVUM_TRY(cavum_profile_fill_grid(&mode->field, &view, order, error));
    CAVUM_TRY(cavum_field_uncertainty_fill(mode, s, m, error));
  }
done:
  return status;
}

cavum_status cavum_result_fill_energies(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = s->result->num_modes;
  bool all = true;
  for (int m = 0; m < count; m++) all = all && s->result->modes[m].energy_mismatch >= 0.0;
  if (all) return CAVUM_OK;
  cavum_view *views = cavum_alloc(count, sizeof *views);
  double *mismatch = cavum_alloc(count, sizeof *mismatch);
  if (!views || !mismatch) CAVUM_TRY(cavum_fail_memory(error));
  for (int m = 0; m < count; m++) {
    views[m] = cavum_solution_view(s->ladder.solution, m, 0, &s->memory->boundary);
  }
  CAVUM_TRY(cavum_energy_mismatch(mismatch, views, count, error));
  for (int m = 0; m < count; m++) s->result->modes[m].energy_mismatch = mismatch[m];
done:
  free(views);
  free(mismatch);
  return status;
}

cavum_status cavum_result_fill(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_result *r = s->result;
  char regions[CAVUM_MESH_REGIONS_NOTE_SIZE];
  r->title = cavum_copy_text(s->cell->title);
  r->beta = s->cell->beta;
  r->half_model = s->half_model;
  r->degree = s->ladder.solution->reference.degree;
  r->num_unknowns = (cavum_index)cavum_space_size(&s->memory->mesh, r->degree);
  r->accelerating_length = s->ladder.solution->modes[0].values[0].length;
  r->modes = cavum_alloc(s->ladder.num_modes, sizeof *r->modes);
  if (!r->title || !r->modes) CAVUM_TRY(cavum_fail_memory(error));
  r->num_modes = s->ladder.num_modes;
  r->accuracy_reached = s->ladder.reached;
  bool taken[CAVUM_LABEL_CODES] = {false};
  for (int m = 0; m < r->num_modes; m++) {
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(fill_mode(s, m, error));
    cavum_label_take(taken, r->modes[m].label);
    r->accuracy_reached = r->accuracy_reached && r->modes[m].accuracy_reached;
  }
  CAVUM_TRY(cavum_problem_warn(s, s->notes.boundaries, error));
  CAVUM_TRY(cavum_problem_warn(s, s->notes.kinks, error));
  cavum_mesh_regions_note(regions, s->cell, &s->memory->mesh);
  CAVUM_TRY(cavum_problem_warn(s, regions, error));
  CAVUM_TRY(cavum_coinciding_warn(s, error));
done:
  return status;
}
