// SPDX-License-Identifier: GPL-3.0-or-later
// From the inputs of a shape to its row.
#include "scan/one_shape.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "cell/cell.h"
#include "cell/geometry.h"
#include "design/requirements.h"
#include "figures/label.h"
#include "figures/stored_figure.h"
#include "scan/input_derivatives.h"
#include "scan/study_conditions.h"
#include "scan/study_geometry.h"

// Dimensions that move the frequency by a smaller part of their own are held by solves alone.
static const double LEAST_BY_DIMENSION = 0.5;

/** A shape while it is computed. */
typedef struct shape_state {
  cavum_scan_worker *worker;
  const cavum_study *study;
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_cell cell;
  bool cell_owned;
  cavum_result *result;  // owned
  cavum_hold_search search;
  double geometry[CAVUM_GEOMETRY_ROOM];  // SI; NAN: not known
  bool has_contour;                      // those that need integrals were asked for
  double corrected_hz;                   // a held frequency, less the one that was solved
  cavum_shape_status outcome;
  char *reason;
} shape_state;

// From how far off a row is still taken from the solve: what the other figures may have changed by
// from there, at twice the part of the dimension, is a fraction of the accuracy asked for. What
// follows more, or is known better, needs a solve at the place; halves of a path are solved as a
// whole for their derivatives, and inputs that are linked may follow the dimension.
static double reach_of(const cavum_study *study) {
  static const double REACH_PART = 0.15;
  bool plain = study->cell.kind == CAVUM_CONTOUR_TWO_ELLIPSE && !study->coupling &&
               study->num_modes < 2 && cavum_study_differentiated(study) == 0;
  for (int i = 0; i < study->num_inputs; i++) {
    plain = plain && study->inputs[i].role != CAVUM_STUDY_LINKED;
  }
  if (study->hold.input < 0 || !plain) return 0.0;
  return REACH_PART * cavum_min(study->cell.accuracy_other_figures, 1e-3);
}

cavum_status cavum_scan_worker_open(cavum_scan_worker *worker, cavum_study *study,
                                    cavum_stop_question *stop, void *stop_data,
                                    cavum_error *error) {
  cavum_solve_options options = cavum_solve_options_default();
  options.stop = stop;
  options.stop_data = stop_data;
  options.coupling = study->coupling;
  options.coupling_of_inner_cell = study->coupling_of_inner_cell;
  options.derivatives_of = cavum_study_differentiated(study);
  if (reach_of(study) > 0.0) options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY;
  options.derivatives = options.derivatives_of != 0;
  if (study->mode < 64) options.derivatives_modes = UINT64_C(1) << study->mode;
  cavum_scan_worker opened = {.study = study};
  cavum_status status = cavum_solver_create(&opened.solver, &options, error);
  options.coupling = options.derivatives = false;
  if (status == CAVUM_OK) status = cavum_solver_create(&opened.scout, &options, error);
  if (status == CAVUM_OK) status = cavum_hold_open(&opened.hold, study, error);
  if (status == CAVUM_OK) {
    *worker = opened;
  } else {
    cavum_scan_worker_clear(&opened);
  }
  return status;
}

void cavum_scan_worker_clear(cavum_scan_worker *worker) {
  cavum_solver_destroy(&worker->solver);
  cavum_solver_destroy(&worker->scout);
  cavum_hold_clear(&worker->hold);
  worker->study = NULL;
}

void cavum_scan_worker_forget(cavum_scan_worker *worker) {
  cavum_solver_forget(worker->solver);
  cavum_solver_forget(worker->scout);
  worker->hold.num_points = worker->hold.num_misses = 0;
}

static void clear_cell(shape_state *s) {
  if (s->cell_owned) cavum_cell_clear(&s->cell);
  s->cell_owned = false;
}

static void settle(shape_state *s, cavum_shape_status outcome, const char *reason) {
  s->outcome = outcome;
  snprintf(s->reason, CAVUM_MESSAGE_SIZE, "%s", reason);
}

static void forget_geometry(shape_state *s) {
  for (int id = 0; id < CAVUM_GEOMETRY_ROOM; id++) s->geometry[id] = NAN;
  s->has_contour = false;
}

static cavum_status measure_geometry(shape_state *s, cavum_error *what) {
  forget_geometry(s);
  return cavum_geometry_measure_halves(s->geometry, &s->cell, what);
}

// The figures of the shape that cost integrals: when they are wanted, and once a cell.
static void measure_contour(shape_state *s) {
  cavum_contour contour = {0};
  if (s->has_contour || !cavum_study_wants_contour(s->study)) return;
  s->has_contour = true;
  if (cavum_cell_make_contour(&contour, &s->cell, CAVUM_PART_WHOLE, NULL) == CAVUM_OK) {
    cavum_geometry_measure_contour(s->geometry, &contour);
  }
  cavum_contour_clear(&contour);
}

// In the unit of its column.
static double geometry_of(const shape_state *s, int id) {
  return cavum_in_unit(s->geometry[id], cavum_geometry_file_unit((cavum_geometry_id)id));
}

// Puts the cell of the present values in place; false when there is none, with the reason settled.
static cavum_status make_cell(shape_state *s, bool *made, cavum_error *error) {
  cavum_error what = {0};
  clear_cell(s);
  *made = false;
  cavum_status status = cavum_study_apply(&s->cell, &s->cell_owned, s->study, s->values, &what);
  if (status == CAVUM_OK) status = measure_geometry(s, &what);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  *made = status == CAVUM_OK;
  if (!*made) settle(s, CAVUM_SHAPE_NO_SHAPE, what.message);
  return CAVUM_OK;
}

// What conditions may name, as far as it is known before the solve.
static void take_dimensions(double values[CAVUM_CONDITION_NUM_VALUES], shape_state *s) {
  for (int i = 0; i < CAVUM_CONDITION_NUM_VALUES; i++) values[i] = NAN;
  memcpy(values, s->values, (size_t)s->study->num_inputs * sizeof *values);
  measure_contour(s);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    values[CAVUM_CONDITION_GEOMETRY + id] = geometry_of(s, id);
  }
}

static void exclude(shape_state *s, const char *condition) {
  char reason[CAVUM_MESSAGE_SIZE];
  snprintf(reason, sizeof reason, "'%.400s' does not hold", condition);
  settle(s, CAVUM_SHAPE_EXCLUDED, reason);
}

static bool within_limits(shape_state *s) {
  const cavum_limits *limits = &s->study->limits;
  double values[CAVUM_CONDITION_NUM_VALUES];
  char reason[160];
  take_dimensions(values, s);
  const char *broken = cavum_study_broken_condition(s->study, values, false);
  if (broken) {
    exclude(s, broken);
    return false;
  }
  double angle_rad = s->geometry[CAVUM_GEOMETRY_WALL_ANGLE];
  double curvature_m = s->geometry[CAVUM_GEOMETRY_IRIS_CURVATURE];
  if (angle_rad < limits->wall_angle_rad) {
    snprintf(reason, sizeof reason, "wall angle %.4g degree, at least %.4g is asked for",
             cavum_in_unit(angle_rad, CAVUM_UNIT_DEGREE),
             cavum_in_unit(limits->wall_angle_rad, CAVUM_UNIT_DEGREE));
  } else if (curvature_m < limits->iris_curvature_m) {
    snprintf(reason, sizeof reason, "iris curvature %.4g mm, at least %.4g is asked for",
             cavum_in_mm(curvature_m), cavum_in_mm(limits->iris_curvature_m));
  } else {
    return true;
  }
  settle(s, CAVUM_SHAPE_EXCLUDED, reason);
  return false;
}

// What a scouting solve is asked for. The frequency converges twice as fast as fields, so it is
// better than it says by far; were it not, the full solve after it would miss and be repeated.
static void loosen(cavum_cell *cell) {
  static const double frequency_factor = 100.0, most_frequency = 1e-2, others = 0.4;
  double frequency = cavum_min(frequency_factor * cell->accuracy_frequency, most_frequency);
  cell->accuracy_frequency = cavum_max(frequency, cell->accuracy_frequency);
  cell->accuracy_other_figures = cavum_max(others, cell->accuracy_other_figures);
}

static int num_modes_needed(const cavum_study *study) {
  return study->num_modes > study->mode ? study->num_modes : study->mode + 1;
}

// Solves the present cell for the modes that columns keep; settles the outcome. Only want of memory
// and a request to stop end the computation.
static cavum_status solve(shape_state *s, cavum_error *error) {
  cavum_error what = {0};
  cavum_result_destroy(&s->result);
  cavum_solver *solver = s->search.scouting ? s->worker->scout : s->worker->solver;
  if (s->search.scouting) loosen(&s->cell);
  cavum_cell_drop_modes(&s->cell, num_modes_needed(s->study));
  cavum_status status = cavum_solver_solve(&s->result, solver, &s->cell, &what);
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (status == CAVUM_ERR_STOPPED) return cavum_fail(error, status, "%s", what.message);
  if (s->result && s->result->num_modes < num_modes_needed(s->study)) {
    cavum_result_destroy(&s->result);
    snprintf(what.message, sizeof what.message, "fewer modes than asked for");
    status = CAVUM_ERR_INCOMPLETE;
  }
  bool no_shape = status == CAVUM_ERR_GEOMETRY || status == CAVUM_ERR_INPUT;
  if (!s->result) {
    settle(s, no_shape ? CAVUM_SHAPE_NO_SHAPE : CAVUM_SHAPE_FAILED, what.message);
  } else if (status != CAVUM_OK || !s->result->accuracy_reached) {
    settle(s, CAVUM_SHAPE_NOT_CONVERGED,
           what.message[0] ? what.message : "the accuracy asked for was not reached");
  } else {
    settle(s, CAVUM_SHAPE_DONE, "");
  }
  return CAVUM_OK;
}

static cavum_figure frequency_of(const shape_state *s) {
  return s->result->modes[s->study->mode].figures[CAVUM_FIGURE_FREQUENCY];
}

// The row is the shape at the frequency to hold: the last Newton correction goes into the dimension
// and the frequency, and the figures of the shape are those of the dimension that stands in the
// row. The other figures stay as they were solved, a part in a million from there.
static cavum_status correct_held(shape_state *s, cavum_error *error) {
  double correction = cavum_hold_correction(&s->search);
  bool made = false;
  if (correction == 0.0) return CAVUM_OK;
  s->values[s->study->hold.input] += correction;
  s->corrected_hz = s->search.target_hz - s->search.last_hz;
  cavum_study_link(s->values, s->study);
  return make_cell(s, &made, error);
}

// Nothing of the last trial stays in the row: it is not the shape that was asked for.
static void give_up_held(shape_state *s) {
  const cavum_hold_search *search = &s->search;
  const cavum_hold *range = &s->study->hold;
  char reason[CAVUM_MESSAGE_SIZE];
  const char *name = s->study->inputs[range->input].place.name;
  if (search->last_hz > 0.0) {
    // Ten times off is another unit, or another cell.
    bool slip = fabs(log(search->target_hz / search->last_hz)) > log(10.0);
    snprintf(reason, sizeof reason,
             "%s = %.9g gives %.9g MHz after %d solves, %.9g MHz is to be held (%g to %g tried)%s",
             name, search->last_value, cavum_in_mhz(search->last_hz), search->num_solves,
             cavum_in_mhz(search->target_hz), range->low, range->high,
             slip ? ": a slip of units?" : "");
    settle(s, CAVUM_SHAPE_NOT_HELD, reason);
  } else {
    snprintf(reason, sizeof reason, "%s from %g to %g: %.480s", name, range->low, range->high,
             s->reason);
    settle(s, s->outcome, reason);
  }
  cavum_result_destroy(&s->result);
  forget_geometry(s);
  s->values[range->input] = NAN;
  cavum_study_link(s->values, s->study);
}

// Tells the search the derivative by the held dimension, where that moves the frequency enough to
// tell by how much figures may change on the way.
static void take_derivative(shape_state *s) {
  const cavum_study *study = s->study;
  const cavum_input *input = &study->inputs[study->hold.input];
  if (s->search.reach == 0.0) return;
  cavum_derivative d =
      cavum_input_derivative(s->result, study->mode, input, CAVUM_FIGURE_FREQUENCY);
  double by_dimension = fabs(d.value * s->search.value / s->search.target_hz);
  if (d.state != CAVUM_FIGURE_PRESENT || by_dimension < LEAST_BY_DIMENSION) return;
  s->search.has_derivative = true;
  s->search.derivative = d.value;
  s->search.derivative_uncertainty = d.uncertainty / fabs(d.value);
}

// Derivatives of the frequency by what varies; false where one of them is not known.
static bool list_derivatives(double *by, const shape_state *s) {
  const cavum_study *study = s->study;
  for (int i = 0; i < cavum_study_num_varied(study); i++) {
    cavum_derivative d =
        cavum_input_derivative(s->result, study->mode, &study->inputs[i], CAVUM_FIGURE_FREQUENCY);
    if (d.state != CAVUM_FIGURE_PRESENT) return false;
    by[i] = d.value;
  }
  return true;
}

// Solves at the value that the search asks for, and tells it what came of that.
static cavum_status try_held(shape_state *s, int *num_failed, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_hold_search *search = &s->search;
  bool made = false;
  s->values[s->study->hold.input] = search->value;
  cavum_study_link(s->values, s->study);
  CAVUM_TRY(make_cell(s, &made, error));
  cavum_result_destroy(&s->result);
  if (made) CAVUM_TRY(solve(s, error));
  *num_failed += made && !s->result;
  if (s->result) {
    cavum_figure found = frequency_of(s);
    take_derivative(s);
    cavum_hold_advance(search, found.value, found.uncertainty);
  } else {
    cavum_hold_retreat(search);
    search->lost = search->lost || *num_failed >= CAVUM_HOLD_MOST_SOLVES;
  }
done:
  return status;
}

// The shape is found: the next shapes of the worker start from it.
static cavum_status end_held(shape_state *s, cavum_error *error) {
  double by[CAVUM_STUDY_MOST_INPUTS];
  bool known = s->search.slope_exact && list_derivatives(by, s);
  cavum_status status = correct_held(s, error);
  if (status != CAVUM_OK) return status;
  cavum_hold_remember(&s->worker->hold, s->values, s->values[s->study->hold.input],
                      known ? by : NULL, &s->search);
  return CAVUM_OK;
}

// Solves for the held dimension. The accepted solve is the last one and a full one, so its result
// is the shape's.
static cavum_status hold(shape_state *s, cavum_error *error) {
  enum { MOST_BEHIND = 2 };  // once up, once down
  cavum_hold_search *search = &s->search;
  cavum_hold_search last = {0};
  int num_failed = 0, num_behind = 0;
  cavum_hold_start(search, &s->worker->hold, s->study, s->values, reach_of(s->study));
  if (fabs(search->slope * search->value) < LEAST_BY_DIMENSION * search->target_hz) {
    search->scouting = true;
  }
  while (!search->met && !search->lost) {
    cavum_status status = try_held(s, &num_failed, error);
    if (status != CAVUM_OK) return status;
    if (search->last_hz > 0.0) last = *search;
    if (search->lost && num_behind < MOST_BEHIND) {
      num_behind += cavum_hold_go_behind(search, &s->study->hold);
    }
  }
  if (search->met) return end_held(s, error);
  last.num_solves = search->num_solves;
  if (last.last_hz > 0.0) *search = last;
  give_up_held(s);
  return CAVUM_OK;
}

static cavum_status compute(shape_state *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool made = false;
  if (s->study->hold.input >= 0) {
    CAVUM_TRY(hold(s, error));
    if (s->outcome == CAVUM_SHAPE_DONE || s->outcome == CAVUM_SHAPE_NOT_CONVERGED) {
      (void)within_limits(s);
    }
    return CAVUM_OK;
  }
  CAVUM_TRY(make_cell(s, &made, error));
  if (made && within_limits(s)) {
    s->search.num_solves = 1;
    CAVUM_TRY(solve(s, error));
  }
done:
  return status;
}

static void put_double(unsigned char *row, const cavum_row_layout *layout, int column,
                       double value) {
  memcpy(row + layout->columns[column].offset, &value, sizeof value);
}

// An uncertainty must not become smaller by rounding.
static void put_float_upward(unsigned char *row, const cavum_row_layout *layout, int column,
                             double value) {
  float rounded = (float)value;
  if ((double)rounded < value) rounded = nextafterf(rounded, HUGE_VALF);
  memcpy(row + layout->columns[column].offset, &rounded, sizeof rounded);
}

static void put_integer(unsigned char *row, const cavum_row_layout *layout, int column,
                        int32_t value) {
  memcpy(row + layout->columns[column].offset, &value, sizeof value);
}

static void put_figure(unsigned char *row, const cavum_row_layout *layout, int column,
                       const cavum_figure *figure) {
  bool present = figure->state == CAVUM_FIGURE_PRESENT;
  bool unbounded = figure->state == CAVUM_FIGURE_UNBOUNDED;
  put_double(row, layout, column, present ? figure->value : unbounded ? HUGE_VAL : NAN);
  put_float_upward(row, layout, column + 1, present ? figure->uncertainty : NAN);
}

static void put_position(unsigned char *row, const cavum_row_layout *layout, int column,
                         const cavum_figure *figure) {
  if (column < 0) return;
  put_double(row, layout, column, figure->has_position ? figure->at.z_m : NAN);
  put_double(row, layout, column + 1, figure->has_position ? figure->at.r_m : NAN);
}

// Nothing is known: NAN in every number, zero in every count.
static void blank_row(unsigned char *row, const cavum_row_layout *layout) {
  memset(row, 0, layout->row_size);
  for (int i = 0; i < layout->num_columns; i++) {
    if (layout->columns[i].type == CAVUM_COLUMN_DOUBLE) put_double(row, layout, i, NAN);
    if (layout->columns[i].type == CAVUM_COLUMN_FLOAT) put_float_upward(row, layout, i, NAN);
  }
}

// What is done to the result of a solve to make it that of the held frequency.
typedef struct held_correction {
  double relative_hz;  // of the frequency that was solved
  double sensitivity;  // part by which other figures may change for each part of the frequency
  double slope_uncertainty;  // relative uncertainty of the slope, and so of the correction
} held_correction;

// How a figure follows a dimension: the part by which it changes for each part of the dimension, at
// most, and for each part of the frequency where the dimension hardly moves that.
typedef struct follow_limits {
  double of_dimension, of_frequency;
} follow_limits;

// Figures change by up to 1.3 times the part by which a dimension does, and most by less
// (two-ellipse cells, all dimensions). The coupling follows the iris radius with a power of up to
// 4.3, at 25 mm of a cell of 1.3 GHz, where the frequency follows with 0.054. Half as much more is
// allowed for other cells.
static const follow_limits FIGURES_FOLLOW = {2.0, 10.0}, COUPLING_FOLLOWS = {6.5, 120.0};

// How much of another mode gets into one for each part of a dimension, by the frequencies of both:
// perturbation of first order, with as much of it as a dimension does to the frequency of a mode.
static double mixing_of(double here_hz, double there_hz) {
  static const double NEAREST = 1e-9;  // modes that are closer than that are one
  double gap = fabs(here_hz - there_hz) * (here_hz + there_hz);
  return here_hz * there_hz / cavum_max(gap, NEAREST * here_hz * there_hz);
}

static double voltage_of(const cavum_mode_result *mode) {
  const cavum_figure *voltage = &mode->figures[CAVUM_FIGURE_VOLTAGE_AT_1_J];
  return voltage->state == CAVUM_FIGURE_PRESENT ? fabs(voltage->value) : 0.0;
}

// Whether a figure is made of E on the axis: in a mode with little voltage that of another counts.
static bool is_of_voltage(int id) {
  return id != CAVUM_FIGURE_GEOMETRY_FACTOR && id != CAVUM_FIGURE_Q0 &&
         id != CAVUM_FIGURE_SURFACE_RESISTANCE;
}

// Figures of a mode that has neighbours on both sides follow a dimension more than those of the
// first: what it takes from each neighbour counts by the voltage of that, where its own is smaller.
// The modes end with the last that was found, not those of the cell: one with the largest voltage
// of all may follow, a twentieth above or where the search is known to be complete. A frequency
// takes nothing of first order.
static follow_limits follow_of(const cavum_result *result, int number, int id) {
  static const double NEXT_MODE = 1.05;
  const cavum_mode_result *mode = &result->modes[number];
  if (number == 0 || id == CAVUM_FIGURE_FREQUENCY) return FIGURES_FOLLOW;
  double here_hz = mode->figures[CAVUM_FIGURE_FREQUENCY].value, own = voltage_of(mode);
  bool counts = is_of_voltage(id) && own > 0.0;
  double mixed = 0.0, largest = own;
  for (int i = 0; i < result->num_modes; i++) {
    double voltage = voltage_of(&result->modes[i]);
    largest = cavum_max(largest, voltage);
    if (i == number) continue;
    double share = counts ? cavum_max(1.0, voltage / own) : 1.0;
    mixed += share * mixing_of(here_hz, result->modes[i].figures[CAVUM_FIGURE_FREQUENCY].value);
  }
  double next_hz = cavum_max(result->complete_below_hz, NEXT_MODE * here_hz);
  if (number == result->num_modes - 1) {
    mixed += (counts ? largest / own : 1.0) * mixing_of(here_hz, next_hz);
  }
  double more = 1.0 + mixed;
  return (follow_limits){more * FIGURES_FOLLOW.of_dimension, more * FIGURES_FOLLOW.of_frequency};
}

// The part by which the frequency changes tells how far the dimension went.
static held_correction correction_of(const shape_state *s, double frequency_hz,
                                     follow_limits follow) {
  // The slope changes from shape to shape and along a secant by a tenth at most.
  static const double LEAST_SLOPE_UNCERTAINTY = 0.1, CURVATURE = 10.0;
  const cavum_hold_search *search = &s->search;
  if (s->corrected_hz == 0.0) return (held_correction){0};
  double by_dimension = fabs(search->slope * search->last_value / frequency_hz);
  double sensitivity = follow.of_dimension / cavum_min(1.0, cavum_max(by_dimension, 1e-3));
  double part = s->corrected_hz / frequency_hz;
  // A derivative is off by what it changes on the way.
  double uncertainty = search->slope_exact
                           ? search->slope_uncertainty + CURVATURE * fabs(part)
                           : cavum_max(LEAST_SLOPE_UNCERTAINTY, search->slope_uncertainty);
  return (held_correction){part, cavum_min(sensitivity, follow.of_frequency), uncertainty};
}

// A figure at the held frequency. The correction of the frequency is as good as the slope.
static cavum_figure figure_at_held(const cavum_figure *solved, cavum_figure_id id,
                                   const held_correction *correction) {
  cavum_figure figure = *solved;
  bool stays = figure.basis == CAVUM_BASIS_STATED || figure.basis == CAVUM_BASIS_END_OF_RANGE;
  if (correction->relative_hz == 0.0 || figure.state != CAVUM_FIGURE_PRESENT || stays)
    return figure;
  if (id == CAVUM_FIGURE_FREQUENCY) {
    double corrected_hz = correction->relative_hz * figure.value;
    figure.value += corrected_hz;
    figure.uncertainty += correction->slope_uncertainty * fabs(corrected_hz);
  } else {
    figure.uncertainty += correction->sensitivity * fabs(figure.value * correction->relative_hz);
  }
  return figure;
}

// The 0 mode or the pi mode. The correction is that of the mode that is held; the other may move by
// twice as much, or not at all.
static void put_coupled(unsigned char *row, const cavum_row_layout *layout, int column,
                        double solved_hz, double uncertainty_hz, const shape_state *s,
                        const held_correction *correction) {
  bool is_held = solved_hz == frequency_of(s).value;
  double uncertainty = is_held ? correction->slope_uncertainty : 1.0;
  put_double(row, layout, column, solved_hz + s->corrected_hz);
  put_float_upward(row, layout, column + 1, uncertainty_hz + uncertainty * fabs(s->corrected_hz));
}

// The frequency that is corrected is the one that is held; that of another mode may follow the
// dimension like any other figure.
static void put_mode(unsigned char *row, const cavum_row_layout *layout,
                     const cavum_mode_columns *columns, const shape_state *s, double solved_hz) {
  const cavum_result *result = s->result;
  const cavum_mode_result *mode = &result->modes[columns->mode];
  bool is_main = columns == &layout->main;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    if (columns->figure[id] < 0) continue;
    bool is_held = is_main || id != CAVUM_FIGURE_FREQUENCY;
    const held_correction correction =
        correction_of(s, solved_hz, follow_of(result, columns->mode, id));
    cavum_figure figure = figure_at_held(
        &mode->figures[id], is_held ? (cavum_figure_id)id : CAVUM_NUM_FIGURES, &correction);
    figure = cavum_stored_figure_make(&figure, (cavum_figure_id)id);
    put_figure(row, layout, columns->figure[id], &figure);
  }
  put_position(row, layout, columns->e_peak, &mode->figures[CAVUM_FIGURE_EPK_OVER_EACC]);
  put_position(row, layout, columns->b_peak, &mode->figures[CAVUM_FIGURE_BPK_OVER_EACC]);
  if (columns->label >= 0) {
    row[layout->columns[columns->label].offset] = cavum_label_code(mode->label);
  }
}

// How far a derivative may be off for a dimension that was corrected: as if the figure changed with
// it at another power of it.
static double drift_of(const shape_state *s, const cavum_figure *figure, int input,
                       const held_correction *correction) {
  static const double POWERS = 4.0;
  double part = fabs(correction->sensitivity * correction->relative_hz);
  if (part == 0.0 || s->values[input] == 0.0) return 0.0;
  return POWERS * part * fabs(figure->value / s->values[input]);
}

static void put_derivatives(unsigned char *row, const shape_state *s,
                            const held_correction *correction) {
  const cavum_study *study = s->study;
  int column = study->layout.derivatives;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *figure = &s->result->modes[study->mode].figures[id];
    cavum_unit unit = cavum_stored_figure_unit((cavum_figure_id)id);
    for (int i = 0; i < study->num_inputs && study->differentiated[id]; i++, column += 2) {
      cavum_derivative d =
          cavum_input_derivative(s->result, study->mode, &study->inputs[i], (cavum_figure_id)id);
      double drift = drift_of(s, figure, i, correction);
      const cavum_figure stored = {.state = d.state,
                                   .value = cavum_in_unit(d.value, unit),
                                   .uncertainty = cavum_in_unit(d.uncertainty + drift, unit)};
      put_figure(row, &study->layout, column, &stored);
    }
  }
}

static void put_requirements(unsigned char *row, const shape_state *s, double solved_hz) {
  const cavum_study *study = s->study;
  const held_correction follow =
      correction_of(s, solved_hz, follow_of(s->result, study->mode, CAVUM_NUM_FIGURES));
  const held_correction coupled = correction_of(s, solved_hz, COUPLING_FOLLOWS);
  int column = study->layout.requirements;
  for (int i = 0; column >= 0 && i < study->requirements->count; i++, column += 2) {
    const cavum_requirement *r = &study->requirements->list[i];
    cavum_figure figure = cavum_requirement_figure(r, &s->cell, s->result, study->mode);
    if (r->kind == CAVUM_REQUIRE_FIGURE) {
      figure = figure_at_held(&figure, r->figure, &follow);
      figure = cavum_requirement_with_fit(figure, s->result, study->mode);
    }
    if (r->kind == CAVUM_REQUIRE_K_CC) {
      figure = figure_at_held(&figure, CAVUM_NUM_FIGURES, &coupled);
    }
    cavum_verdict v = cavum_requirement_weigh(r, &figure);
    row[study->layout.columns[column].offset] = (uint8_t)v.kind;
    put_double(row, &study->layout, column + 1, v.margin);
  }
}

static void put_result(unsigned char *row, const shape_state *s) {
  const cavum_study *study = s->study;
  const cavum_result *result = s->result;
  const cavum_row_layout *layout = &study->layout;
  const cavum_mode_result *mode = &result->modes[study->mode];
  double solved_hz = mode->figures[CAVUM_FIGURE_FREQUENCY].value;
  held_correction correction =
      correction_of(s, solved_hz, follow_of(result, study->mode, CAVUM_NUM_FIGURES));
  put_mode(row, layout, &layout->main, s, solved_hz);
  put_derivatives(row, s, &correction);
  put_requirements(row, s, solved_hz);
  for (int i = 0; i < layout->num_others; i++) {
    put_mode(row, layout, &layout->others[i], s, solved_hz);
  }
  if (layout->coupling >= 0 && result->coupling.state == CAVUM_FIGURE_PRESENT) {
    held_correction of_coupling = correction_of(s, solved_hz, COUPLING_FOLLOWS);
    cavum_figure coupling = figure_at_held(&result->coupling, CAVUM_NUM_FIGURES, &of_coupling);
    put_figure(row, layout, layout->coupling, &coupling);
    put_coupled(row, layout, layout->zero_mode, result->zero_mode_hz,
                result->zero_mode_uncertainty_hz, s, &correction);
    put_coupled(row, layout, layout->pi_mode, result->pi_mode_hz, result->pi_mode_uncertainty_hz, s,
                &correction);
  }
  put_double(row, layout, layout->length, result->accelerating_length.value_m);
  put_integer(row, layout, layout->elements, result->mesh.num_elements);
  put_integer(row, layout, layout->degree, result->degree);
  put_integer(row, layout, layout->unknowns, result->num_unknowns);
}

static void put_inputs(unsigned char *row, const cavum_study *study, int64_t shape,
                       const double *values, cavum_shape_status outcome) {
  const cavum_row_layout *layout = &study->layout;
  uint8_t code = (uint8_t)outcome;
  blank_row(row, layout);
  memcpy(row + layout->columns[layout->shape].offset, &shape, sizeof shape);
  row[layout->columns[layout->status].offset] = code;
  for (int i = 0; i < study->num_inputs; i++) {
    put_double(row, layout, layout->first_input + i, values[i]);
  }
}

static void fill_row(unsigned char *row, const shape_state *s, int64_t shape) {
  const cavum_row_layout *layout = &s->study->layout;
  put_inputs(row, s->study, shape, s->values, s->outcome);
  put_integer(row, layout, layout->solves, s->search.num_solves);
  if (layout->slope >= 0 && s->search.met) put_double(row, layout, layout->slope, s->search.slope);
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    if (layout->geometry[id] >= 0)
      put_double(row, layout, layout->geometry[id], geometry_of(s, id));
  }
  if (s->result) put_result(row, s);
}

static double value_in(const unsigned char *row, const cavum_row_layout *layout, int column) {
  return column < 0 ? NAN : cavum_column_value(&layout->columns[column], row);
}

// A shape whose figures break a condition keeps them: they were computed.
static void limit_figures(unsigned char *row, shape_state *s) {
  const cavum_row_layout *layout = &s->study->layout;
  double values[CAVUM_CONDITION_NUM_VALUES];
  if (s->outcome != CAVUM_SHAPE_DONE) return;
  take_dimensions(values, s);
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    values[CAVUM_CONDITION_FIGURES + id] = value_in(row, layout, layout->main.figure[id]);
    for (int i = 0; i < layout->num_others; i++) {
      const cavum_mode_columns *other = &layout->others[i];
      values[cavum_condition_of_mode(other->mode, id)] = value_in(row, layout, other->figure[id]);
    }
  }
  values[CAVUM_CONDITION_K_CC] = value_in(row, layout, layout->coupling);
  const char *broken = cavum_study_broken_condition(s->study, values, true);
  if (!broken) return;
  exclude(s, broken);
  row[layout->columns[layout->status].offset] = (uint8_t)s->outcome;
}

cavum_status cavum_scan_compute(unsigned char *row, char reason[CAVUM_MESSAGE_SIZE],
                                cavum_scan_worker *worker, int64_t shape, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  shape_state s = {.worker = worker, .study = worker->study, .reason = reason};
  reason[0] = '\0';
  forget_geometry(&s);
  CAVUM_TRY(cavum_study_sample(s.values, worker->study, shape, error));
  CAVUM_TRY(compute(&s, error));
  fill_row(row, &s, shape);
  limit_figures(row, &s);
done:
  cavum_result_destroy(&s.result);
  clear_cell(&s);
  return status;
}

cavum_status cavum_scan_fill_crashed(unsigned char *row, char reason[CAVUM_MESSAGE_SIZE],
                                     cavum_study *study, int64_t shape, cavum_error *error) {
  double values[CAVUM_STUDY_MOST_INPUTS];
  cavum_status status = cavum_study_sample(values, study, shape, error);
  if (status != CAVUM_OK) return status;
  put_inputs(row, study, shape, values, CAVUM_SHAPE_CRASHED);
  snprintf(reason, CAVUM_MESSAGE_SIZE, "the process died while it computed this shape");
  return CAVUM_OK;
}

cavum_shape_status cavum_scan_status_of(const unsigned char *row, const cavum_study *study) {
  return (cavum_shape_status)row[study->layout.columns[study->layout.status].offset];
}
