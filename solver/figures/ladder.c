// SPDX-License-Identifier: GPL-3.0-or-later
// Rising degrees on one mesh. Every level starts from the modes of the level before; the histories
// of all figures give their uncertainties; the climb ends when they meet the accuracy asked for.
#include "ladder.h"

#include <string.h>

#include "base.h"

// Rounding floors relative to a figure, from repeated solves of one cell on different meshes: the
// eigenvalue is good to a few 1e-15 times the condition of the condensation, quantities that are
// linear in the eigenvector to about 1e-12, peaks of E (a derivative) to about 1e-11.
static const double FLOOR_FREQUENCY = 1e-12, FLOOR_OTHER = 1e-11, FLOOR_PEAK = 1e-10;
// The place of a flat maximum is good to the square root of the rounding of the value only.
static const double FLOOR_FLAT_MAXIMUM = 3e-8;
// mu0 is a measured constant: CODATA 2018 gives 1.5e-10 as its relative standard uncertainty, and
// the 2022 value is 6.8e-10 lower. Every figure in ohm, volt or watt carries it.
static const double CONSTANT_UNCERTAINTY = 7e-10;
// An integral over the axis below this part of int |E_z| dz, uncertainty included, is none.
static const double ZERO_RATIO = 1e-6;
// A tail needs three values; more levels than this many above the first are never needed to start.
enum { LEVELS_LEAST = 3 };
// Counting modes by inertia: degree and margin (of k^2) of the cheap count, margin of the fine one,
// far enough from the modes that the factorisation is not close to singular.
enum { COUNT_DEGREE = 4 };
static const double COUNT_MARGIN = 0.02, FINE_MARGIN = 1e-5;

static double rounding_floor(cavum_figure_id id) {
  if (id == CAVUM_FIGURE_FREQUENCY) return FLOOR_FREQUENCY;
  if (id == CAVUM_FIGURE_BETA_OPTIMUM) return FLOOR_FLAT_MAXIMUM;
  return id == CAVUM_FIGURE_EPK_OVER_EACC ? FLOOR_PEAK : FLOOR_OTHER;
}

// First-order estimates: accurate to the next order of the decayed field, not to rounding.
static bool is_estimate(cavum_figure_id id) {
  return id == CAVUM_FIGURE_TUBE_CUT_FREQUENCY || id == CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
}

bool cavum_ladder_is_accurate(const cavum_figure *figure, cavum_figure_id id,
                              const cavum_cell *cell) {
  // The speed of the largest R/Q is a flat maximum and the cut estimates are about tiny numbers:
  // both carry their uncertainty but do not hold up a solve.
  if (figure->state != CAVUM_FIGURE_PRESENT || is_estimate(id) || id == CAVUM_FIGURE_BETA_OPTIMUM) {
    return true;
  }
  double wanted =
      id == CAVUM_FIGURE_FREQUENCY ? cell->accuracy_frequency : cell->accuracy_peak_field;
  return figure->uncertainty <= wanted * fabs(figure->value);
}

static cavum_status start_history(cavum_ladder *ladder, cavum_error *error) {
  if (ladder->history) return CAVUM_OK;
  ladder->num_modes = ladder->level->num_modes;
  ladder->history = cavum_alloc(ladder->num_modes, sizeof *ladder->history);
  return ladder->history ? CAVUM_OK : cavum_fail_memory(error);
}

// What a figure's formula and constants leave open, relative: the next order of the reflection for
// the tube cut, mu0 for figures whose unit is not a ratio, a length or a frequency.
static double model_error(cavum_figure_id id) {
  if (is_estimate(id)) return 0.05;
  switch (id) {
    case CAVUM_FIGURE_FREQUENCY:
    case CAVUM_FIGURE_EPK_OVER_EACC:
    case CAVUM_FIGURE_BPK_OVER_EACC:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS:
    case CAVUM_FIGURE_BETA_OPTIMUM:
      return 0.0;
    case CAVUM_FIGURE_G_TIMES_R_OVER_Q:
      return 2.0 * CONSTANT_UNCERTAINTY;
    default:
      return CONSTANT_UNCERTAINTY;
  }
}

static cavum_convergence convergence_of(cavum_figure_id id) {
  switch (id) {
    case CAVUM_FIGURE_EPK_OVER_EACC:
    case CAVUM_FIGURE_BPK_OVER_EACC:
      return CAVUM_CONVERGENCE_UNEVEN;
    case CAVUM_FIGURE_FREQUENCY:
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
    case CAVUM_FIGURE_Q0:
      return CAVUM_CONVERGENCE_STEADY;
    default:
      return CAVUM_CONVERGENCE_SIGNED;
  }
}

static void update_figure(cavum_figure *figure, cavum_history *history, cavum_figure_id id) {
  if (figure->state != CAVUM_FIGURE_PRESENT) {
    history->count = 0;
    return;
  }
  cavum_history_add(history, figure->value);
  figure->uncertainty = cavum_uncertainty_of_last(history, convergence_of(id), rounding_floor(id)) +
                        model_error(id) * fabs(figure->value);
}

// A ratio that is zero as far as the hierarchy can tell.
static bool is_zero(cavum_history *history, double ratio) {
  cavum_history_add(history, ratio);
  return history->count >= LEVELS_LEAST &&
         ratio + cavum_uncertainty_of_last(history, CAVUM_CONVERGENCE_UNEVEN, 0.0) < ZERO_RATIO;
}

static void make_absent(cavum_figure *figures, const cavum_figure_id *ids, int count) {
  for (int i = 0; i < count; i++) figures[ids[i]].state = CAVUM_FIGURE_ABSENT;
}

// Figures that divide by a voltage or an integral that vanishes do not exist. An odd mode has no
// int E_z dz, and a mode may have no voltage at the cell's particle speed.
static void drop_vanishing(cavum_mode_values *values, cavum_mode_history *history) {
  static const cavum_figure_id of_integral[] = {CAVUM_FIGURE_TRANSIT_TIME_FACTOR};
  static const cavum_figure_id of_voltage[] = {
      CAVUM_FIGURE_R_OVER_Q_LINAC,          CAVUM_FIGURE_R_OVER_Q_CIRCUIT,
      CAVUM_FIGURE_G_TIMES_R_OVER_Q,        CAVUM_FIGURE_EPK_OVER_EACC,
      CAVUM_FIGURE_BPK_OVER_EACC,           CAVUM_FIGURE_TRANSIT_TIME_FACTOR,
      CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, CAVUM_FIGURE_LOSS_FACTOR,
      CAVUM_FIGURE_VOLTAGE_AT_1_J,          CAVUM_FIGURE_EACC_AT_1_J,
      CAVUM_FIGURE_SHUNT_IMPEDANCE,         CAVUM_FIGURE_WALL_POWER,
      CAVUM_FIGURE_TUBE_CUT_R_OVER_Q};
  if (is_zero(&history->integral_part, values->integral_part)) {
    make_absent(values->figures, of_integral, sizeof of_integral / sizeof *of_integral);
  }
  if (is_zero(&history->voltage_part, values->voltage_part)) {
    make_absent(values->figures, of_voltage, sizeof of_voltage / sizeof *of_voltage);
  }
}

static void update_histories(cavum_ladder *ladder, const cavum_ladder_request *request) {
  ladder->reached = ladder->num_steps + 1 >= LEVELS_LEAST;
  int count =
      ladder->level->num_modes < ladder->num_modes ? ladder->level->num_modes : ladder->num_modes;
  for (int m = 0; m < count; m++) {
    cavum_mode_values *values = &ladder->level->modes[m].values;
    drop_vanishing(values, &ladder->history[m]);
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      cavum_figure *figure = &values->figures[id];
      update_figure(figure, &ladder->history[m].figures[id], (cavum_figure_id)id);
      ladder->reached =
          ladder->reached && cavum_ladder_is_accurate(figure, (cavum_figure_id)id, request->cell);
    }
    for (int i = 0; request->curves && i < CAVUM_BETA_POINTS; i++) {
      cavum_history_add(&ladder->history[m].voltage_of_beta[i], values->voltage_of_beta[i]);
    }
  }
}

static double relative_change(const cavum_history *history) {
  if (history->count < 2) return 0.0;
  double now = history->value[history->count - 1], before = history->value[history->count - 2];
  return now != 0.0 ? fabs(now - before) / fabs(now) : 0.0;
}

static void record_step(cavum_ladder *ladder, int degree) {
  const cavum_level *level = ladder->level;
  cavum_convergence_step step = {.degree = degree,
                                 .num_elements = level->mesh->num_elements,
                                 .num_unknowns = level->discretisation.space.num_unknowns};
  if (ladder->num_modes > 0) {
    const cavum_mode_history *first = &ladder->history[0];
    step.frequency_hz = level->modes[0].values.figures[CAVUM_FIGURE_FREQUENCY].value;
    step.frequency_change = relative_change(&first->figures[CAVUM_FIGURE_FREQUENCY]);
    for (int id = CAVUM_FIGURE_FREQUENCY + 1; id < CAVUM_NUM_FIGURES; id++) {
      if (is_estimate((cavum_figure_id)id)) continue;
      step.figure_change = cavum_max(step.figure_change, relative_change(&first->figures[id]));
    }
  }
  ladder->steps[ladder->num_steps++] = step;
}

// Modes asked of each class: all of them at first; then what the level before kept, which costs
// less. Near a frequency all are asked again, since what is nearest may still change.
static void set_requests(cavum_level_input *input, const cavum_ladder_request *request,
                         const cavum_level *before) {
  int count = request->cell->num_modes;
  input->requests[0] =
      (cavum_class_request){request->half_model ? CAVUM_PARITY_EVEN : CAVUM_PARITY_NONE, count};
  // The lowest mode of all has one sign throughout and is even; the count by inertia makes sure.
  bool wants_odd = request->half_model && (count > 1 || input->near_k2_per_m2 > 0.0);
  input->requests[1] = (cavum_class_request){CAVUM_PARITY_ODD, wants_odd ? count : 0};
  if (!before || input->near_k2_per_m2 > 0.0 || !request->half_model) return;
  input->requests[0].count = input->requests[1].count = 0;
  for (int m = 0; m < before->num_modes; m++) input->requests[before->modes[m].in_class].count++;
}

static bool has_all_modes(const cavum_level *level, const cavum_ladder_request *request) {
  return level->num_modes >= request->cell->num_modes;
}

static cavum_status tell_watcher(const cavum_ladder_request *request, int degree,
                                 cavum_error *error) {
  cavum_space space = {0};
  if (!request->watcher) return CAVUM_OK;
  cavum_status status = cavum_space_create(&space, request->mesh, degree, error);
  if (status != CAVUM_OK) return status;
  const cavum_solve_progress progress = {.num_elements = request->mesh->num_elements,
                                         .degree = degree,
                                         .num_unknowns = space.num_unknowns,
                                         .num_modes = request->cell->num_modes};
  cavum_space_clear(&space);
  request->watcher(&progress, request->watcher_data);
  return CAVUM_OK;
}

static cavum_status climb_one(cavum_ladder *ladder, const cavum_ladder_request *request, int degree,
                              cavum_timings *timings, cavum_error *error) {
  cavum_level_input input = {.cell = request->cell,
                             .sides = &ladder->sides,
                             .count = request->cell->num_modes,
                             .curves = request->curves,
                             .guess = ladder->level};
  double near = 2.0 * CAVUM_PI * request->cell->near_hz / CAVUM_C_M_PER_S;
  input.near_k2_per_m2 = near * near;
  const cavum_level *before = ladder->level;
  set_requests(&input, request, before && has_all_modes(before, request) ? before : NULL);
  cavum_level *level = cavum_alloc(1, sizeof *level);
  if (!level) return cavum_fail_memory(error);
  cavum_status status = cavum_level_solve(level, request->mesh, degree, &input, timings, error);
  if (status != CAVUM_OK) {
    cavum_level_clear(level);
    free(level);
    return status;
  }
  cavum_level_clear(ladder->level);
  free(ladder->level);
  ladder->level = level;
  return CAVUM_OK;
}

cavum_status cavum_ladder_climb(cavum_ladder *ladder, const cavum_ladder_request *request,
                                cavum_timings *timings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  memset(ladder, 0, sizeof *ladder);
  CAVUM_TRY(cavum_sides_create(&ladder->sides, request->mesh, error));
  for (int degree = request->first_degree; degree <= request->last_degree; degree++) {
    CAVUM_TRY(tell_watcher(request, degree, error));
    CAVUM_TRY(climb_one(ladder, request, degree, timings, error));
    // Few unknowns carry few modes: the histories start where all that are wanted are there.
    if (!has_all_modes(ladder->level, request)) continue;
    CAVUM_TRY(start_history(ladder, error));
    update_histories(ladder, request);
    record_step(ladder, degree);
    if (ladder->reached && !request->fixed) break;
  }
done:
  return status;
}

void cavum_ladder_clear(cavum_ladder *ladder) {
  if (!ladder) return;
  cavum_sides_clear(&ladder->sides);
  cavum_level_clear(ladder->level);
  free(ladder->level);
  free(ladder->history);
  memset(ladder, 0, sizeof *ladder);
}

// Modes of all classes below a bound, on a discretisation of the ladder's mesh.
static cavum_status count_below(int64_t *total, cavum_ladder *ladder,
                                const cavum_ladder_request *request,
                                const cavum_discretisation *discretisation, double k2,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_pencil pencil = {0};
  *total = 0;
  for (int c = 0; c < (request->half_model ? 2 : 1); c++) {
    cavum_level_class *class = &ladder->level->classes[c];
    int64_t below;
    if (!class->skeleton.exists) {  // a class that lost all its modes still has to be counted
      cavum_closure closure = {.symmetry_is_magnetic = c == 1};
      CAVUM_TRY(cavum_skeleton_create(&class->skeleton, ladder->level->mesh, &closure, error));
    }
    CAVUM_TRY(cavum_pencil_create(&pencil, discretisation, &class->skeleton, error));
    CAVUM_TRY(cavum_modes_count_below(&below, &pencil, k2, error));
    cavum_pencil_clear(&pencil);
    *total += below;
  }
done:
  cavum_pencil_clear(&pencil);
  return status;
}

// The window just outside the reported modes, wider by `margin` of their k^2.
typedef struct window {
  double low_k2, high_k2;
  int64_t count;
} window;

static cavum_status count_window(window *w, double margin, cavum_ladder *ladder,
                                 const cavum_ladder_request *request,
                                 const cavum_discretisation *discretisation, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_level *level = ladder->level;
  int64_t below_low = 0, below_high;
  w->low_k2 = level->modes[0].k2_per_m2 * (1.0 - margin);
  w->high_k2 = level->modes[level->num_modes - 1].k2_per_m2 * (1.0 + margin);
  CAVUM_TRY(count_below(&below_high, ladder, request, discretisation, w->high_k2, error));
  if (request->cell->near_hz > 0.0) {
    CAVUM_TRY(count_below(&below_low, ladder, request, discretisation, w->low_k2, error));
  }
  w->count = below_high - below_low;
done:
  return status;
}

// The count at a low degree with a window that is wide against its error: as good, and far cheaper,
// unless another mode lies inside the margin.
static cavum_status count_coarsely(window *w, cavum_ladder *ladder,
                                   const cavum_ladder_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_level *level = ladder->level;
  cavum_reference reference = {0};
  cavum_discretisation discretisation = {0};
  CAVUM_TRY(cavum_reference_create(&reference, COUNT_DEGREE, level->reference.triangle_points > 0,
                                   error));
  CAVUM_TRY(cavum_discretisation_create(&discretisation, level->mesh, &reference,
                                        level->discretisation.unknown, error));
  CAVUM_TRY(count_window(w, COUNT_MARGIN, ladder, request, &discretisation, error));
done:
  cavum_discretisation_clear(&discretisation);
  cavum_reference_clear(&reference);
  return status;
}

// Reported modes strictly inside a window.
static int count_inside(const cavum_level *level, const window *w, bool near) {
  int count = 0;
  for (int m = 0; m < level->num_modes; m++) {
    double k2 = level->modes[m].k2_per_m2;
    if (k2 < w->high_k2 && (!near || k2 > w->low_k2)) count++;
  }
  return count;
}

static double to_hz(double k2) { return CAVUM_C_M_PER_S * sqrt(k2) / (2.0 * CAVUM_PI); }

cavum_status cavum_ladder_check_complete(double *below_hz, double *above_hz, cavum_ladder *ladder,
                                         const cavum_ladder_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_level *level = ladder->level;
  bool near = request->cell->near_hz > 0.0;
  window w = {0.0, 0.0, -1};
  if (level->reference.degree > COUNT_DEGREE) {
    CAVUM_TRY(count_coarsely(&w, ladder, request, error));
  }
  if (w.count != level->num_modes) {
    CAVUM_TRY(count_window(&w, FINE_MARGIN, ladder, request, &level->discretisation, error));
  }
  int expected = level->num_modes;
  if (w.count > expected) {
    // Others may lie within the margin of the outermost reported modes. What can be said then is
    // that nothing is missing inside of those.
    CAVUM_TRY(count_window(&w, -FINE_MARGIN, ladder, request, &level->discretisation, error));
    expected = count_inside(level, &w, near);
  }
  if (w.count != expected) {
    return cavum_fail(error, CAVUM_ERR_INCOMPLETE, "%lld modes lie %s %.9g Hz but %d were found",
                      (long long)w.count, near ? "in the window up to" : "below", to_hz(w.high_k2),
                      expected);
  }
  *below_hz = to_hz(w.high_k2);
  *above_hz = near ? to_hz(w.low_k2) : 0.0;
done:
  return status;
}
