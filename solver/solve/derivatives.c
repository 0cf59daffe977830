// SPDX-License-Identifier: GPL-3.0-or-later
// From the modes of a solution to derivatives of figures by dimensions.
#include "solve/derivatives.h"

#include "base/base.h"
#include "figures/sharp_corner.h"
#include "solve/accuracy.h"
#include "solve/derivative_fill.h"
#include "solve/derivative_rates.h"
#include "solve/derivative_reason.h"
#include "solve/figure_chain.h"
#include "solve/figure_policy.h"
#include "solve/linear_range.h"
#include "solve/wall_adjoints.h"
#include "solve/wall_rates.h"

// Peaks closer than the first, relative, are equal but for rounding; not so beyond the second.
static const double TIE_LEAST = 1e-9, TIE_MOST = 1e-3;
// Modes of one symmetry closer than this, relative in k^2, are told apart by rounding alone.
static const double DEGENERATE = 1e-8;

// Some other mode of the same symmetry has the same frequency.
static bool is_degenerate(const cavum_modes *modes, int index) {
  double own = modes->k2_per_m2[index];
  for (int i = 0; i < modes->count; i++) {
    if (i != index && fabs(modes->k2_per_m2[i] - own) < DEGENERATE * own) return true;
  }
  return false;
}

// The parts of the figures that are asked for.
static void list_needed(bool needed[CAVUM_NUM_FUNCTIONALS], uint64_t figures) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!cavum_derivative_is_asked(figures, id)) continue;
    cavum_figure_chain chain = cavum_figure_chain_of((cavum_figure_id)id, 1.0);
    for (int j = 0; j < CAVUM_NUM_FUNCTIONALS; j++) {
      needed[j] = needed[j] || (chain.known && chain.power[j] != 0.0);
    }
  }
}

// The rough start of a ladder has none.
static bool has_figures(const cavum_solution *solution, int mode) {
  return solution && mode < solution->num_modes &&
         solution->modes[mode].values[0].figures[CAVUM_FIGURE_FREQUENCY].state ==
             CAVUM_FIGURE_PRESENT;
}

static double weakest_exponent(uint64_t figures, const cavum_mode_values *values) {
  double weakest = CAVUM_SMOOTH_EXPONENT;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (!cavum_derivative_is_asked(figures, id)) continue;
    weakest = cavum_min(weakest, cavum_figure_policy_exponent((cavum_figure_id)id, values));
  }
  return weakest;
}

static bool turns_some_tip(const cavum_shape_motion *motion) {
  for (int i = 0; i < motion->dimensions.count; i++) {
    if (motion->turned_tip[i] > 0.0) return true;
  }
  return false;
}

// Whether a peak of E stands where the wall meets the axis.
static bool peaks_at_axis(const cavum_derivative_values *w, const cavum_mesh_boundary *boundary) {
  const cavum_peak_place *places = w->peaks.places[1];
  for (int i = 0; i < w->peaks.count[1]; i++) {
    if (places[i].edge >= 0 && boundary->shape[places[i].edge].meets_axis) return true;
  }
  return false;
}

// The parts of which two degrees may agree by chance by all dimensions at once, so that they are
// worked out at a third, where something turns a wall at the axis: integrals to an end of the axis
// where every other degree adds little, or where they are taken along the axis itself, as beside a
// magnetic plane; a peak of E that stands there. Whether there are some.
static bool choose_third(bool third[CAVUM_NUM_FUNCTIONALS], const cavum_derivative_values *w,
                         const cavum_mode_values *values, const cavum_mesh_boundary *boundary,
                         const bool needed[CAVUM_NUM_FUNCTIONALS]) {
  bool turns = turns_some_tip(w->motion), any = false;
  for (int j = 0; turns && j < CAVUM_NUM_FOLLOWED_PARTS; j++) {
    int part = CAVUM_FUNCTIONAL_VOLTAGE + j;
    bool along_axis = j == 0 ? values->at_beta_of_axis : values->plain_of_axis;
    bool slow =
        j < CAVUM_NUM_AXIS_PARTS ? w->one_axis_edge || along_axis : peaks_at_axis(w, boundary);
    third[part] = needed[part] && slow;
    any = any || third[part];
  }
  return any;
}

// How many degrees of a solution are worked out, of the third of them perhaps some parts alone.
static int count_degrees(bool third[CAVUM_NUM_FUNCTIONALS], cavum_derivative_values *w,
                         const cavum_solution *solution, int mode,
                         const cavum_mesh_boundary *boundary,
                         const bool needed[CAVUM_NUM_FUNCTIONALS]) {
  bool smooth =
      weakest_exponent(w->figures, &solution->modes[mode].values[0]) >= CAVUM_SMOOTH_EXPONENT;
  bool enough = smooth && solution->num_degrees > CAVUM_DEGREES_ON_SMOOTH;
  w->only_followed_at_third =
      enough && choose_third(third, w, &solution->modes[mode].values[0], boundary, needed);
  if (!enough) return solution->num_degrees;
  return CAVUM_DEGREES_ON_SMOOTH + (w->only_followed_at_third ? 1 : 0);
}

// The plans of a half model of which some dimension moves one side alone; NULL of others.
static cavum_skeletons *mirror_of(const cavum_shape_motion *motion, const cavum_problem *s) {
  for (int i = 0; i < motion->dimensions.count; i++) {
    if (motion->has_odd[i]) return &s->memory->skeletons;
  }
  return NULL;
}

// The highest degrees of a solution: worked out from the highest down, taken in by rising degree.
static cavum_status take_solution(cavum_derivative_values *w, const cavum_problem *s,
                                  cavum_solution *solution, int mode, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_mode_functionals at[CAVUM_LEVELS_MOST] = {0};
  cavum_mode_adjoints adjoints = {0}, odd_adjoints = {0};
  bool needed[CAVUM_NUM_FUNCTIONALS] = {false}, third[CAVUM_NUM_FUNCTIONALS] = {false};
  bool is_last = solution == s->ladder.solution;
  list_needed(needed, w->figures);
  int num_degrees = count_degrees(third, w, solution, mode, &s->memory->boundary, needed);
  cavum_mode_result *of = &s->result->modes[mode];
  const cavum_mode_functionals_input input = {
      .solution = solution,
      .mode = mode,
      .boundary = &s->memory->boundary,
      .cell = s->cell,
      .follower = &s->memory->follower,
      .adjoints = &adjoints,
      .memory = mode == 0 ? &s->memory->adjoints : NULL,
      .samples = is_last ? s->ladder.history[mode].samples : NULL,
      .mirror = mirror_of(w->motion, s),
      .odd_adjoints = &odd_adjoints,
      .odd_memory = mode == 0 ? &s->memory->odd_adjoints : NULL,
      .peaks = &w->peaks,
      .num_degrees = num_degrees,
      .needed = needed,
      .needed_at_last = w->only_followed_at_third ? third : NULL,
      .energy_mismatch = is_last ? &of->energy_mismatch : NULL};
  CAVUM_TRY(cavum_mode_functionals_compute(at, &input, error));
  for (int below = input.num_degrees - 1; below >= 0; below--) {
    CAVUM_TRY(cavum_derivative_rates_take(w, s, solution, mode, below, &at[below], error));
  }
done:
  for (int i = 0; i < CAVUM_LEVELS_MOST; i++) cavum_mode_functionals_clear(&at[i]);
  cavum_mode_adjoints_clear(&adjoints);
  cavum_mode_adjoints_clear(&odd_adjoints);
  return status;
}

// G and R/Q along the wall, where the wall is to be filled in. The degree below is of the same
// elimination, or the step of the ladder before.
static cavum_status add_wall(cavum_problem *s, int mode, cavum_error *error) {
  const cavum_mode_functionals_input input = {.solution = s->ladder.solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .cell = s->cell};
  uint64_t asked = s->options->derivatives_of;
  bool wanted = !asked || cavum_derivative_is_asked(asked, CAVUM_FIGURE_GEOMETRY_FACTOR) ||
                cavum_derivative_is_asked(asked, CAVUM_FIGURE_R_OVER_Q_LINAC);
  if (!s->options->profiles || !wanted) return CAVUM_OK;
  cavum_mode_functionals_input lower = input;
  bool of_same = input.solution->num_degrees > 1;
  bool has_lower = of_same || has_figures(s->ladder.before, mode);
  if (of_same) lower.below = 1;
  if (!of_same) lower.solution = s->ladder.before;
  return cavum_wall_adjoints_add(&s->result->modes[mode], &input, has_lower ? &lower : NULL,
                                 &s->ladder.solution->modes[mode].values[0], error);
}

// E and H at each point of the wall.
static cavum_status add_wall_rates(cavum_problem *s, const cavum_shape_motion *m, int mode,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = m->dimensions.count;
  bool *known = NULL;
  const cavum_mode_functionals_input input = {.solution = s->ladder.solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .follower = &s->memory->follower,
                                              .cell = s->cell};
  if (!s->options->profiles || !s->options->wall_derivatives) return CAVUM_OK;
  known = cavum_alloc(count, sizeof *known);
  if (!known) CAVUM_TRY(cavum_fail_memory(error));
  for (int i = 0; i < count; i++) {
    bool mirrored = cavum_cell_dimension_keeps_mirror(&m->dimensions.list[i]);
    known[i] = m->smooth[i] && (mirrored || !s->half_model);
  }
  const cavum_wall_motion of_curves = {count, m->num_curves, m->rates, known};
  status = cavum_wall_rates_add(&s->result->modes[mode], &input, &of_curves,
                                s->options->wall_derivatives_above, error);
done:
  free(known);
  return status;
}

// Peaks that differ by no more than they are uncertain may be either. Where they stand is found on
// the whole mesh, on which a peak of E may be less accurate than the figure that a region made of
// it.
static double peak_tie(const cavum_problem *s, int mode, cavum_figure_id id) {
  const cavum_figure *peak = &s->ladder.solution->modes[mode].values[0].figures[id];
  const cavum_history *history = &s->ladder.history[mode].figures[id];
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  double uncertainty = peak->uncertainty;
  if (!(peak->value > 0.0)) return TIE_LEAST;
  if (history->count > 1) {
    double of_mesh =
        cavum_uncertainty_of_last(history, policy->convergence, policy->rounding_floor);
    uncertainty = cavum_max(uncertainty, of_mesh);
  }
  double part = uncertainty / peak->value;
  return cavum_min(cavum_max(part, TIE_LEAST), TIE_MOST);
}

static cavum_status place_peaks(cavum_derivative_values *w, const cavum_problem *s, int mode,
                                cavum_error *error) {
  const cavum_mode_functionals_input input = {.solution = s->ladder.solution,
                                              .mode = mode,
                                              .boundary = &s->memory->boundary,
                                              .samples = s->ladder.history[mode].samples,
                                              .mirror = mirror_of(w->motion, s)};
  bool wanted = cavum_derivative_is_asked(w->figures, CAVUM_FIGURE_EPK_OVER_EACC) ||
                cavum_derivative_is_asked(w->figures, CAVUM_FIGURE_BPK_OVER_EACC);
  if (!wanted) return CAVUM_OK;
  const double tie[2] = {peak_tie(s, mode, CAVUM_FIGURE_BPK_OVER_EACC),
                         peak_tie(s, mode, CAVUM_FIGURE_EPK_OVER_EACC)};
  return cavum_mode_functionals_place_peaks(&w->peaks, &input, tie, error);
}

static cavum_status differentiate_mode(cavum_problem *s, const cavum_shape_motion *m, int mode,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solution *solution = s->ladder.solution, *before = s->ladder.before;
  const cavum_solution_mode *of = &solution->modes[mode];
  cavum_mode_result *to = &s->result->modes[mode];
  int count = m->dimensions.count;
  uint64_t asked = s->options->derivatives_of;
  cavum_derivative_values w = {0};
  to->derivatives = cavum_alloc((int64_t)count * CAVUM_FIGURES_ROOM, sizeof *to->derivatives);
  to->one_sided = cavum_alloc(4 * (int64_t)count, sizeof *to->one_sided);
  if (!to->derivatives || !to->one_sided) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(cavum_derivative_values_create(&w, m, asked ? asked : UINT64_MAX, error));
  w.one_axis_edge = !s->half_model && s->memory->boundary.num_axis == 1;
  if (is_degenerate(&solution->classes[of->in_class].modes[0], of->index)) {
    cavum_derivative_fill(s, mode, &w, CAVUM_REASON_DEGENERATE);
    goto done;
  }
  CAVUM_TRY(place_peaks(&w, s, mode, error));
  if (solution->num_degrees < CAVUM_DEGREES_LEAST && has_figures(before, mode)) {
    CAVUM_TRY(take_solution(&w, s, before, mode, error));
  }
  CAVUM_TRY(take_solution(&w, s, solution, mode, error));
  cavum_derivative_fill(s, mode, &w, NULL);
  CAVUM_TRY(add_wall(s, mode, error));
  CAVUM_TRY(add_wall_rates(s, m, mode, error));
done:
  cavum_derivative_values_clear(&w);
  return status;
}

static bool is_mode_asked(const cavum_problem *s, int mode) {
  uint64_t modes = s->options->derivatives_modes;
  return modes == 0 || (mode < 64 && (modes >> mode & 1));
}

cavum_status cavum_derivatives_add(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_shape_motion m = {0};
  if (s->memory->mesh.node_order > 0) return CAVUM_OK;
  CAVUM_TRY(cavum_problem_memory_make_follower(s->memory, error));
  CAVUM_TRY(cavum_shape_motion_make(&m, s, error));
  CAVUM_TRY(cavum_shape_motion_describe(s->result, &m, error));
  for (int mode = 0; mode < s->result->num_modes; mode++) {
    if (is_mode_asked(s, mode)) CAVUM_TRY(differentiate_mode(s, &m, mode, error));
  }
  CAVUM_TRY(cavum_linear_range_warn(s, &m, error));
done:
  cavum_shape_motion_clear(&m);
  return status;
}
