// SPDX-License-Identifier: GPL-3.0-or-later
// Rising degrees on one mesh. Every solution starts from the modes of the solution before; the
// histories of all figures give their uncertainties; the climb ends when they meet the accuracy
// asked for.
#include "solve/ladder.h"

#include <string.h>

#include "base/base.h"
#include "base/units.h"

// Rounding floors relative to a figure, from repeated solves of one cell on different meshes: the
// eigenvalue is good to a few 1e-15 times the condition of the condensation, quantities that are
// linear in the eigenvector to what the iteration leaves in it (2e-11 in half of a flat pillbox),
// peaks of E (a derivative) to no more than a few times that.
static const double FLOOR_FREQUENCY = 1e-11, FLOOR_OTHER = 5e-11, FLOOR_PEAK = 1e-10;
// The place of a flat maximum is good to the square root of the rounding of the value only.
static const double FLOOR_FLAT_MAXIMUM = 3e-8;
// mu0 is a measured constant: CODATA 2018 gives 1.5e-10 as its relative standard uncertainty, and
// the 2022 value is 6.8e-10 lower. Every figure in ohm, volt or watt carries it.
static const double CONSTANT_UNCERTAINTY = 7e-10;
// Figures that are linear or quadratic in the vector, the two in a quotient.
static const double VECTOR_FACTOR = 6.0;
// An integral over the axis below this part of int |E_z| dz is none, nor is one below a part of the
// accuracy asked for, to which the vector is no better known.
static const double ZERO_RATIO = 1e-6, ZERO_PART = 2e-2;
// Part of the uncertainty of a gradient that a peak on a region takes over: a peak over a gradient
// that lags behind.
static const double EACC_PART = 0.1;
// Of the first three degrees there is one ratio, whose first change may have been small by luck: no
// slower ratio than this is expected then. Of five modes some figure nearly always has such luck,
// and good meshes were given up for it.
static const double RATIO_EXPECTED = 0.7;
// A tail needs three values: with fewer degrees the accuracy is never taken as reached.
enum { DEGREES_LEAST = 3 };
// Degree at which a single mode is looked for, and several.
enum { START_DEGREE = 2, START_DEGREE_SEVERAL = 5, SEED_DEGREE_SEVERAL = 2 };
// Where a mesh is given up for a finer one, and where climbing stops when it is hopeless.
enum { GIVE_UP_AT = 13, HOPELESS_FROM = 10 };

static double rounding_floor(cavum_figure_id id) {
  if (id == CAVUM_FIGURE_FREQUENCY) return FLOOR_FREQUENCY;
  if (id == CAVUM_FIGURE_BETA_OPTIMUM) return FLOOR_FLAT_MAXIMUM;
  return id == CAVUM_FIGURE_EPK_OVER_EACC ? FLOOR_PEAK : FLOOR_OTHER;
}

// First-order estimates: accurate to the next order of the decayed field, not to rounding.
static bool is_estimate(cavum_figure_id id) {
  return id == CAVUM_FIGURE_TUBE_CUT_FREQUENCY || id == CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
}

// The speed of the largest R/Q is a flat maximum and the cut estimates are about tiny numbers: both
// carry their uncertainty but do not hold up a solve.
static bool is_exempt(cavum_figure_id id) {
  return is_estimate(id) || id == CAVUM_FIGURE_BETA_OPTIMUM;
}

static double wanted_accuracy(cavum_figure_id id, const cavum_cell *cell) {
  return id == CAVUM_FIGURE_FREQUENCY ? cell->accuracy_frequency : cell->accuracy_peak_field;
}

bool cavum_ladder_is_accurate(const cavum_figure *figure, cavum_figure_id id,
                              const cavum_cell *cell) {
  if (figure->state != CAVUM_FIGURE_PRESENT || is_exempt(id)) return true;
  return figure->uncertainty <= wanted_accuracy(id, cell) * fabs(figure->value);
}

// Uncertainty over what is asked for.
static double part_of_wanted(const cavum_figure *figure, cavum_figure_id id,
                             const cavum_cell *cell) {
  double wanted = wanted_accuracy(id, cell) * fabs(figure->value);
  if (is_exempt(id)) return 0.0;
  if (figure->state != CAVUM_FIGURE_PRESENT || wanted <= 0.0) return 0.0;
  return figure->uncertainty / wanted;
}

// Degrees that the slowest figure is likely to need beyond the last one at its present ratio.
static int missing_degrees(const cavum_figure *figure, cavum_figure_id id, const cavum_cell *cell,
                           const cavum_history *history) {
  if (cavum_ladder_is_accurate(figure, id, cell)) return 0;
  double wanted = wanted_accuracy(id, cell) * fabs(figure->value);
  if (!(wanted > 0.0) || !(figure->uncertainty < HUGE_VAL)) return CAVUM_DEGREE_MOST;
  double ratio = cavum_uncertainty_ratio(history), expected = figure->uncertainty;
  if (history->count == DEGREES_LEAST && ratio > RATIO_EXPECTED) {
    expected *= RATIO_EXPECTED / (1.0 - RATIO_EXPECTED) * (1.0 - ratio) / ratio;
    ratio = RATIO_EXPECTED;
  }
  double count = cavum_max(0.0, log(expected / wanted) / -log(ratio));
  return count < CAVUM_DEGREE_MOST ? 1 + (int)count : CAVUM_DEGREE_MOST;
}

static cavum_status start_history(cavum_ladder *ladder, cavum_error *error) {
  if (ladder->history) return CAVUM_OK;
  ladder->num_modes = ladder->solution->num_modes;
  ladder->history = cavum_alloc(ladder->num_modes, sizeof *ladder->history);
  return ladder->history ? CAVUM_OK : cavum_fail_memory(error);
}

// What the constants leave open, relative: mu0 for figures whose unit is not a ratio, a length or a
// frequency.
static double constant_error(cavum_figure_id id) {
  switch (id) {
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
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
      return CAVUM_CONVERGENCE_SPREAD;
    case CAVUM_FIGURE_FREQUENCY:
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
    case CAVUM_FIGURE_Q0:
      return CAVUM_CONVERGENCE_STEADY;
    default:
      return CAVUM_CONVERGENCE_SIGNED;
  }
}

// Relative error of a figure that the iteration left, from that of the vector. What is made of a
// voltage or an integral that nearly cancels, or of the field at the end of a tube, suffers more.
static double iteration_error(cavum_figure_id id, double vector_error,
                              const cavum_mode_values *values) {
  double voltage = cavum_max(values->voltage_rcond, ZERO_RATIO);
  double integral = cavum_max(values->integral_rcond, ZERO_RATIO);
  double cut = fabs(values->figures[CAVUM_FIGURE_TUBE_CUT_FREQUENCY].value) /
               values->figures[CAVUM_FIGURE_FREQUENCY].value;
  switch (id) {
    case CAVUM_FIGURE_FREQUENCY:
      return 0.0;  // of second order
    case CAVUM_FIGURE_GEOMETRY_FACTOR:
    case CAVUM_FIGURE_SURFACE_RESISTANCE:
    case CAVUM_FIGURE_Q0:
      return VECTOR_FACTOR * vector_error;
    case CAVUM_FIGURE_R_OVER_Q_OPTIMUM:
    case CAVUM_FIGURE_BETA_OPTIMUM:
      return VECTOR_FACTOR * vector_error / cavum_max(values->optimum_rcond, ZERO_RATIO);
    case CAVUM_FIGURE_TRANSIT_TIME_FACTOR:
      return VECTOR_FACTOR * vector_error / cavum_min(voltage, integral);
    case CAVUM_FIGURE_TUBE_CUT_FREQUENCY:
    case CAVUM_FIGURE_TUBE_CUT_R_OVER_Q:
      // From the decayed field, whose square the change of f is.
      return VECTOR_FACTOR * vector_error / cavum_max(sqrt(cut), vector_error);
    default:
      return VECTOR_FACTOR * vector_error / voltage;
  }
}

static void update_figure(cavum_figure *figure, cavum_history *history, cavum_figure_id id,
                          double spread, double iteration) {
  if (figure->state != CAVUM_FIGURE_PRESENT) {
    history->count = 0;
    return;
  }
  cavum_history_add(history, figure->value, spread, iteration * fabs(figure->value));
  // An estimate brings what its formula leaves open.
  figure->uncertainty +=
      cavum_uncertainty_of_last(history, convergence_of(id), rounding_floor(id)) +
      (iteration + constant_error(id)) * fabs(figure->value);
}

// A ratio that is zero as far as the hierarchy can tell: at the last degrees there was nothing, or
// it converges to nothing.
static bool is_zero(cavum_history *history, double ratio, double least) {
  double largest = 0.0;
  cavum_history_add(history, ratio, 0.0, 0.0);
  if (history->count < DEGREES_LEAST) return false;
  for (int i = 1; i <= DEGREES_LEAST; i++) {
    largest = cavum_max(largest, history->value[history->count - i]);
  }
  return largest < least ||
         ratio + cavum_uncertainty_of_last(history, CAVUM_CONVERGENCE_UNEVEN, 0.0) < least;
}

static void make_absent(cavum_figure *figures, const cavum_figure_id *ids, int count) {
  for (int i = 0; i < count; i++) figures[ids[i]].state = CAVUM_FIGURE_ABSENT;
}

// Figures that divide by a voltage or an integral that vanishes do not exist. An odd mode has no
// int E_z dz, and a mode may have no voltage at the cell's particle speed.
static void drop_vanishing(cavum_mode_values *values, cavum_mode_history *history,
                           const cavum_cell *cell) {
  static const cavum_figure_id of_integral[] = {CAVUM_FIGURE_TRANSIT_TIME_FACTOR};
  static const cavum_figure_id of_voltage[] = {
      CAVUM_FIGURE_R_OVER_Q_LINAC,          CAVUM_FIGURE_R_OVER_Q_CIRCUIT,
      CAVUM_FIGURE_G_TIMES_R_OVER_Q,        CAVUM_FIGURE_EPK_OVER_EACC,
      CAVUM_FIGURE_BPK_OVER_EACC,           CAVUM_FIGURE_TRANSIT_TIME_FACTOR,
      CAVUM_FIGURE_TRANSIT_TIME_FACTOR_ABS, CAVUM_FIGURE_LOSS_FACTOR,
      CAVUM_FIGURE_VOLTAGE_AT_1_J,          CAVUM_FIGURE_EACC_AT_1_J,
      CAVUM_FIGURE_SHUNT_IMPEDANCE,         CAVUM_FIGURE_WALL_POWER,
      CAVUM_FIGURE_TUBE_CUT_R_OVER_Q};
  double least = cavum_max(ZERO_RATIO, ZERO_PART * cell->accuracy_peak_field);
  if (is_zero(&history->integral_over_abs, values->integral_over_abs, least)) {
    make_absent(values->figures, of_integral, sizeof of_integral / sizeof *of_integral);
  }
  if (is_zero(&history->voltage_over_abs, values->voltage_over_abs, least)) {
    make_absent(values->figures, of_voltage, sizeof of_voltage / sizeof *of_voltage);
  }
}

// Spread of a peak against the degree before; in the unit of the figure.
static double spread_of(const cavum_mode_history *history, const cavum_wall_samples *samples,
                        double eacc_v_per_m, cavum_index count, cavum_figure_id id) {
  bool electric = id == CAVUM_FIGURE_EPK_OVER_EACC;
  if (!electric && id != CAVUM_FIGURE_BPK_OVER_EACC) return 0.0;
  if (!history->samples || history->eacc_v_per_m <= 0.0 || eacc_v_per_m <= 0.0) return 0.0;
  double spread = cavum_surface_spread(history->samples, history->eacc_v_per_m, samples,
                                       eacc_v_per_m, count, electric);
  return electric ? spread : cavum_in_unit(CAVUM_MU0, CAVUM_UNIT_MILLITESLA_PER_MV_PER_M) * spread;
}

// Whether the uncertainty of a figure is enough, and what one degree less would have given.
static void judge_figure(cavum_ladder *ladder, const cavum_cell *cell, const cavum_figure *figure,
                         const cavum_history *history, cavum_figure_id id) {
  int missing = missing_degrees(figure, id, cell, history);
  ladder->reached = ladder->reached && missing == 0;
  ladder->missing = missing > ladder->missing ? missing : ladder->missing;
  cavum_figure less = *figure;
  less.uncertainty = cavum_uncertainty_one_less(history, convergence_of(id), rounding_floor(id));
  ladder->worst_one_less = cavum_max(ladder->worst_one_less, part_of_wanted(&less, id, cell));
}

// Takes in one mode at one degree.
static void take_mode(cavum_ladder *ladder, const cavum_ladder_request *request, int m, int below) {
  cavum_mode_values *values = &ladder->solution->modes[m].values[below];
  cavum_mode_history *history = &ladder->history[m];
  cavum_wall_samples *samples = ladder->solution->modes[m].samples[below];
  double vector_error = cavum_solution_vector_error(ladder->solution, m, below);
  double eacc = values->figures[CAVUM_FIGURE_EACC_AT_1_J].value;
  drop_vanishing(values, history, request->cell);
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    double spread = spread_of(history, samples, eacc, ladder->memory->boundary.num_metal, id);
    update_figure(&values->figures[id], &history->figures[id], id, spread,
                  iteration_error(id, vector_error, values));
    if (id == CAVUM_FIGURE_EPK_OVER_EACC && ladder->has_regions) continue;
    judge_figure(ladder, request->cell, &values->figures[id], &history->figures[id], id);
  }
  for (int i = 0; request->curves && i < CAVUM_BETA_POINTS; i++) {
    cavum_history_add(&history->voltage_of_beta[i], values->voltage_of_beta[i], 0.0,
                      VECTOR_FACTOR * vector_error * values->terms_v);
  }
  free(history->samples);
  history->samples = samples;
  history->eacc_v_per_m = eacc;
  ladder->solution->modes[m].samples[below] = NULL;
}

// Takes in the values of one degree, the highest of the solution or one `below` it.
static void update_histories(cavum_ladder *ladder, const cavum_ladder_request *request, int below) {
  ladder->reached = ladder->num_steps + 1 >= DEGREES_LEAST;
  ladder->missing = ladder->reached ? 0 : 1;
  ladder->worst_one_less = 0.0;
  int count = ladder->solution->num_modes < ladder->num_modes ? ladder->solution->num_modes
                                                              : ladder->num_modes;
  for (int m = 0; m < count; m++) take_mode(ladder, request, m, below);
}

// What a region leaves open of a peak of E, beyond the tail of its own degrees: of what the next
// degrees of the whole mesh may still change the part that it could not correct in the last change,
// and some of the gradient.
static double left_open(const cavum_mode_history *history, const cavum_mode_values *values,
                        const cavum_peak_steps *steps, double value) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const cavum_history *peak = &history->figures[id];
  const cavum_figure *eacc = &values->figures[CAVUM_FIGURE_EACC_AT_1_J];
  double change = peak->change[peak->count - 1];
  double part = steps->spread_of_whole < change ? steps->spread_of_whole / change : 1.0;
  return part * cavum_uncertainty_of_last(peak, convergence_of(id), FLOOR_PEAK) +
         EACC_PART * eacc->uncertainty / eacc->value * value;
}

// Puts what a region says about a peak of E in the place of what the whole mesh says, and judges
// that. The degrees of the region carry the history on.
static void take_refined(cavum_ladder *ladder, const cavum_cell *cell, int m,
                         const cavum_peak_steps *steps) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  cavum_mode_values *values = &ladder->solution->modes[m].values[0];
  cavum_figure *figure = &values->figures[id];
  cavum_history history = ladder->history[m].figures[id];
  double iteration =
      iteration_error(id, cavum_solution_vector_error(ladder->solution, m, 0), values);
  for (int i = 0; i < CAVUM_PEAK_DEGREES; i++) {
    const cavum_peak_step *step = &steps->step[i];
    figure->value = step->electric.value;
    figure->at = step->electric.at;
    cavum_history_add(&history, figure->value, step->spread, iteration * figure->value);
  }
  figure->uncertainty = cavum_uncertainty_of_last(&history, convergence_of(id), FLOOR_PEAK) +
                        left_open(&ladder->history[m], values, steps, figure->value) +
                        iteration * figure->value;
  judge_figure(ladder, cell, figure, &history, id);
}

static cavum_peak_source peak_source(const cavum_solution *solution,
                                     const cavum_mesh_boundary *boundary, int m, int below) {
  const cavum_mode_values *values = &solution->modes[m].values[below];
  return (cavum_peak_source){cavum_solution_view(solution, m, below, boundary),
                             values->figures[CAVUM_FIGURE_EACC_AT_1_J].value};
}

// The mode one degree less is in the same solution or in the one before.
static const cavum_solution *solution_below(const cavum_ladder *ladder) {
  const cavum_solution *solution = ladder->solution, *before = ladder->before;
  if (solution->num_degrees > 1) return solution;
  bool is_below = before && before->num_modes >= solution->num_modes &&
                  before->reference.degree + 1 == solution->reference.degree;
  return is_below && before != ladder->rough ? before : NULL;
}

static bool has_accurate_peak(const cavum_ladder *ladder, const cavum_cell *cell, int m) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  return cavum_ladder_is_accurate(&ladder->solution->modes[m].values[0].figures[id], id, cell);
}

// Peaks of E that are not accurate enough, of modes that have voltages, with the solution that has
// their modes one degree less; returns how many.
static int list_peaks(cavum_peak_task *tasks, const cavum_ladder *ladder,
                      const cavum_solution *below, const cavum_cell *cell) {
  const cavum_solution *solution = ladder->solution;
  const cavum_mesh_boundary *boundary = &ladder->memory->boundary;
  int count = 0;
  for (int m = 0; m < ladder->num_modes; m++) {
    if (has_accurate_peak(ladder, cell, m)) continue;
    tasks[count++] =
        (cavum_peak_task){.now = peak_source(solution, boundary, m, 0),
                          .before = peak_source(below, boundary, m, below == solution ? 1 : 0),
                          .in_class = solution->modes[m].in_class,
                          .samples = ladder->history[m].samples};
  }
  return count;
}

static cavum_status refine_peaks(cavum_ladder *ladder, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const cavum_solution *below = solution_below(ladder);
  cavum_problem_memory *memory = ladder->memory;
  bool done = false;
  cavum_peak_task *tasks = cavum_alloc(ladder->num_modes, sizeof *tasks);
  cavum_peak_steps *steps = cavum_alloc(ladder->num_modes, sizeof *steps);
  if (!tasks || !steps) CAVUM_TRY(cavum_fail_memory(error));
  int count = below ? list_peaks(tasks, ladder, below, cell) : 0;
  if (count > 0) {
    CAVUM_TRY(cavum_peak_region_refine(steps, &done, &memory->peak_region, memory->topology, tasks,
                                       count, error));
  }
  for (int m = 0, i = 0; m < ladder->num_modes; m++) {
    if (has_accurate_peak(ladder, cell, m)) continue;
    const cavum_figure *peak = &ladder->solution->modes[m].values[0].figures[id];
    if (done) take_refined(ladder, cell, m, &steps[i++]);
    if (!done) judge_figure(ladder, cell, peak, &ladder->history[m].figures[id], id);
  }
done:
  free(tasks);
  free(steps);
  return status;
}

// Peaks of E come last: where all other figures are accurate, a region may spare a degree of the
// whole mesh. A peak that is accurate without one would be so with one at a degree less.
static cavum_status judge_peaks(cavum_ladder *ladder, const cavum_cell *cell, cavum_error *error) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  if (!ladder->has_regions) return CAVUM_OK;
  if (ladder->reached) return refine_peaks(ladder, cell, error);
  for (int m = 0; m < ladder->num_modes; m++) {
    int missing = missing_degrees(&ladder->solution->modes[m].values[0].figures[id], id, cell,
                                  &ladder->history[m].figures[id]) -
                  CAVUM_PEAK_DEGREES;
    ladder->missing = missing > ladder->missing ? missing : ladder->missing;
  }
  return CAVUM_OK;
}

static double relative_change(const cavum_history *history) {
  if (history->count < 2) return 0.0;
  double now = history->value[history->count - 1], before = history->value[history->count - 2];
  return now != 0.0 ? fabs(now - before) / fabs(now) : 0.0;
}

static void record_step(cavum_ladder *ladder, int degree, int below) {
  const cavum_solution *solution = ladder->solution;
  cavum_convergence_step step = {
      .degree = degree,
      .num_elements = solution->mesh->num_elements,
      .num_unknowns = (cavum_index)cavum_space_size(solution->mesh, degree)};
  if (ladder->num_modes > 0) {
    const cavum_mode_history *first = &ladder->history[0];
    step.frequency_hz = solution->modes[0].values[below].figures[CAVUM_FIGURE_FREQUENCY].value;
    step.frequency_change = relative_change(&first->figures[CAVUM_FIGURE_FREQUENCY]);
    for (int id = CAVUM_FIGURE_FREQUENCY + 1; id < CAVUM_NUM_FIGURES; id++) {
      if (is_estimate((cavum_figure_id)id)) continue;
      step.figure_change = cavum_max(step.figure_change, relative_change(&first->figures[id]));
    }
  }
  ladder->steps[ladder->num_steps++] = step;
}

// Modes asked of each class: all of them at first; then what the solution before kept, which costs
// less. Near a frequency all are asked again, since what is nearest may still change.
static void set_requests(cavum_solution_request *input, const cavum_ladder_request *request,
                         const cavum_solution *before, bool touches_axis) {
  int count = request->cell->num_modes;
  input->requests[0] =
      (cavum_class_request){request->half_model ? CAVUM_PARITY_EVEN : CAVUM_PARITY_NONE, count};
  // The lowest mode of all has one sign throughout and is even; the count by inertia makes sure. Of
  // a ring domain that is the static mode, and nothing is known of the next one.
  bool wants_odd =
      request->half_model && (count > 1 || input->near_k2_per_m2 > 0.0 || !touches_axis);
  input->requests[1] = (cavum_class_request){CAVUM_PARITY_ODD, wants_odd ? count : 0};
  if (!before || input->near_k2_per_m2 > 0.0 || !request->half_model) return;
  input->requests[0].count = input->requests[1].count = 0;
  int known = before->num_modes < count ? before->num_modes : count;  // a neighbour may know more
  for (int m = 0; m < known; m++) input->requests[before->modes[m].in_class].count++;
}

static bool has_all_modes(const cavum_solution *solution, const cavum_ladder_request *request) {
  return solution->num_modes >= request->cell->num_modes;
}

// A solution of the cell before, if its modes can start one of this.
static const cavum_solution *neighbour_of(const cavum_problem_memory *memory,
                                          const cavum_solution *solution) {
  return solution && solution->topology == memory->topology && solution->num_modes > 0 ? solution
                                                                                       : NULL;
}

static void tell_watcher(const cavum_ladder_request *request, const cavum_mesh *mesh, int degree) {
  if (!request->watcher) return;
  const cavum_solve_progress progress = {
      .num_elements = mesh->num_elements,
      .degree = degree,
      .num_unknowns = (cavum_index)cavum_space_size(mesh, degree),
      .num_modes = request->cell->num_modes};
  request->watcher(&progress, request->watcher_data);
}

// Solves the next solution, with what the one before found as a guess, and puts it in its place.
static cavum_status replace_solution(cavum_ladder *ladder, const cavum_ladder_request *request,
                                     cavum_solution *solution, int degree,
                                     cavum_solution_request *input, cavum_timings *timings,
                                     cavum_error *error) {
  cavum_problem_memory *memory = ladder->memory;
  const cavum_solution *before = ladder->solution;
  if (!solution) return cavum_fail_memory(error);
  input->cell = request->cell;
  input->count = request->cell->num_modes;
  input->curves = request->curves;
  input->topology = memory->topology;
  input->skeletons = &memory->skeletons;
  input->guess = before ? before : neighbour_of(memory, input->rough ? solution : memory->last);
  input->guess_is_neighbour = !before;
  double near = 2.0 * CAVUM_PI * request->cell->near_hz / CAVUM_C_M_PER_S;
  input->near_k2_per_m2 = near * near;
  // The classes that a neighbour's modes belong to are a guess too: completeness will tell.
  set_requests(input, request,
               input->guess && has_all_modes(input->guess, request) ? input->guess : NULL,
               memory->boundary.num_axis > 0);
  cavum_status status =
      cavum_solution_compute(solution, &memory->mesh, degree, input, timings, error);
  if (status != CAVUM_OK) return status;
  ladder->before = before;
  ladder->solution = solution;
  return CAVUM_OK;
}

// Solves a solution of its own for a start.
static cavum_status find_roughly(cavum_ladder *ladder, const cavum_ladder_request *request,
                                 int slot, int degree, cavum_timings *timings, cavum_error *error) {
  cavum_solution_request input = {
      .boundary = &ladder->memory->boundary, .num_degrees = 1, .rough = true};
  cavum_solution **solution = &ladder->memory->slots[slot];
  if (!*solution) *solution = cavum_alloc(1, sizeof **solution);
  return replace_solution(ladder, request, *solution, degree, &input, timings, error);
}

// Modes are found roughly at a low degree, several also where those of a neighbour are known, and
// else at a lower one before. The first solution then improves them, which is far cheaper than to
// find them there.
static cavum_status find_start(cavum_ladder *ladder, const cavum_ladder_request *request,
                               cavum_timings *timings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_problem_memory *memory = ladder->memory;
  const cavum_solution *last = memory->slots[CAVUM_ROUGH_SLOT];
  const cavum_cell *cell = request->cell;
  bool single = cell->num_modes == 1;
  int degree = single ? START_DEGREE : START_DEGREE_SEVERAL;
  bool pays = cell->near_hz <= 0.0 && request->first_degree > degree;
  if (!pays || (single && neighbour_of(memory, memory->last))) return CAVUM_OK;
  if (!single && !(neighbour_of(memory, last) && has_all_modes(last, request))) {
    CAVUM_TRY(find_roughly(ladder, request, CAVUM_SEED_SLOT, SEED_DEGREE_SEVERAL, timings, error));
  }
  CAVUM_TRY(find_roughly(ladder, request, CAVUM_ROUGH_SLOT, degree, timings, error));
  if (!single) ladder->rough = memory->slots[CAVUM_ROUGH_SLOT];
done:
  return status;
}

// Solves at a degree and takes in its values and those of the `new_degrees` - 1 degrees below.
static cavum_status climb_to(cavum_ladder *ladder, const cavum_ladder_request *request, int degree,
                             int new_degrees, cavum_timings *timings, cavum_error *error) {
  cavum_problem_memory *memory = ladder->memory;
  cavum_solution_request input = {.boundary = &memory->boundary, .num_degrees = new_degrees};
  const cavum_solution *start =
      ladder->solution ? ladder->solution : neighbour_of(memory, memory->last);
  cavum_solution *slot =
      cavum_problem_memory_slot(memory, degree, new_degrees, start, ladder->solution != NULL);
  cavum_status status = replace_solution(ladder, request, slot, degree, &input, timings, error);
  // Few unknowns carry few modes: the histories start where all that are wanted are there.
  if (status != CAVUM_OK || !has_all_modes(ladder->solution, request)) return status;
  status = start_history(ladder, error);
  for (int below = ladder->solution->num_degrees - 1; status == CAVUM_OK && below >= 0; below--) {
    update_histories(ladder, request, below);
    record_step(ladder, degree - below, below);
  }
  return status == CAVUM_OK ? judge_peaks(ladder, request->cell, error) : status;
}

// A finer mesh is the better way beyond a few degrees.
static int give_up_at(int first_degree) {
  return first_degree + 3 > GIVE_UP_AT ? first_degree + 3 : GIVE_UP_AT;
}

// How many degrees to go up at once, 0 to stop: steps of several degrees share one elimination.
static int next_step(const cavum_ladder *ladder, const cavum_ladder_request *request, int degree) {
  int left = request->last_degree - degree, step = ladder->missing;
  if (request->fixed || ladder->num_steps == 0) return left > 0 ? 1 : 0;
  if (ladder->reached) return 0;
  int most = request->can_refine ? give_up_at(request->first_degree) : CAVUM_DEGREE_MOST;
  bool hopeless = degree + ladder->missing > most;
  if (hopeless && (request->can_refine || degree >= HOPELESS_FROM)) return 0;
  step = step < CAVUM_LEVELS_MOST ? step : CAVUM_LEVELS_MOST;
  return step < left ? step : left;
}

cavum_status cavum_ladder_climb(cavum_ladder *ladder, cavum_problem_memory *memory,
                                const cavum_ladder_request *request, cavum_timings *timings,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  *ladder = (cavum_ladder){
      .memory = memory,
      .has_regions = !request->fixed && !request->single && memory->mesh.node_order == 0};
  CAVUM_TRY(find_start(ladder, request, timings, error));
  int degree = request->first_degree, step = request->single ? 1 : CAVUM_LEVELS_MOST;
  step = step < degree ? step : degree;
  while (step > 0) {
    tell_watcher(request, &memory->mesh, degree);
    CAVUM_TRY(climb_to(ladder, request, degree, step, timings, error));
    step = next_step(ladder, request, degree);
    degree += step;
  }
done:
  return status;
}

void cavum_ladder_clear(cavum_ladder *ladder) {
  if (!ladder) return;
  for (int m = 0; ladder->history && m < ladder->num_modes; m++) free(ladder->history[m].samples);
  free(ladder->history);
  memset(ladder, 0, sizeof *ladder);
}
