// SPDX-License-Identifier: GPL-3.0-or-later
// Forwards: f behind a step is f of the shape in vacuum over the refractive index of the gas. What
// was stated of heat treatments stays as a factor while the shape changes.
#include "steps/forward.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/units.h"
#include "solve/solver.h"
#include "steps/air.h"
#include "steps/pair.h"
#include "steps/shape.h"
#include "steps/shape_step.h"
#include "steps/sources.h"
#include "yaml/tree.h"

// Differences of a change from its estimate that are told apart from rounding and explained.
static const double DIFFERS_HZ = 1.0, DIFFERS_PART = 1e-4;
// The change of the slope along the step explains a difference that it leaves less than this of.
static const double EXPLAINED = 0.1;
// What is left of this part of a change is below what any amount is known to: no step is large for
// it.
static const double EVEN_PART = 1e-3;
static const double SMALLEST_EDGE_DEGREES = 1e-3;
// Accuracy of other figures where they are not asked for, or cannot be had: at an edge the peaks
// have none.
static const double FREQUENCY_ALONE = 0.1;

static const char FORMULA_SOURCE[] = "refractivity formula";

/** A chain as it runs. */
typedef struct walk {
  cavum_steps_result *result;
  cavum_sources sources;
  double vacuum_hz;        /**< Of the shape. */
  double refractive_index; /**< Of the gas. */
  double *rows;            /**< Owned, shape [num_steps, CAVUM_STEP_SOURCES_MOST]. */
  const cavum_steps *steps;
  bool moves;           /**< Some step moves the shape: it is a path from the beginning. */
  cavum_cell shape;     /**< Owned, once `moves`. */
  cavum_cell *before;   /**< Borrowed: shapes before the steps of the chain. */
  cavum_solver *solver; /**< Owned. */
  cavum_pair pair;      /**< Owned: halves between plates, where they are asked for. */
  double *pair_rows[CAVUM_NUM_PAIR_MODES]; /**< Owned, as rows; NULL without halves. */
  cavum_result *solved;                    /**< Owned: of the shape, up to a scaling. */
  double scale;                            /**< Lengths over those of the solved shape. */
  double factor;                           /**< vacuum_hz over the frequency of the solved shape. */
} walk;

static const char *source_of(const cavum_chain_step *step) {
  return step->source[0] ? step->source : step->name;
}

static void change_vacuum(walk *w, double factor) {
  w->vacuum_hz *= factor;
  w->factor *= factor;
}

static const cavum_mode_result *mode_of(const walk *w) {
  return cavum_result_mode(w->solved, w->steps->mode);
}

// A peak at an edge that a cut leaves has no value to any accuracy: the frequency is what counts.
static cavum_status solve_cell(cavum_result **result, walk *w, const cavum_cell *cell,
                               cavum_error *error) {
  cavum_result *solved = NULL;
  cavum_status status = cavum_solver_solve(&solved, w->solver, cell, error);
  const cavum_mode_result *mode = cavum_result_mode(solved, w->steps->mode);
  cavum_figure f = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY);
  bool good =
      f.state == CAVUM_FIGURE_PRESENT && f.uncertainty <= cell->accuracy_frequency * fabs(f.value);
  if (status == CAVUM_ERR_NOT_CONVERGED && solved && good) status = CAVUM_OK;
  if (status == CAVUM_OK && f.state != CAVUM_FIGURE_PRESENT) {
    status = cavum_fail(error, CAVUM_ERR_USAGE, "the cell has no mode %d", w->steps->mode + 1);
  }
  if (status == CAVUM_OK) {
    *result = solved;
  } else {
    cavum_result_destroy(&solved);
  }
  return status;
}

static cavum_status solve(walk *w, const cavum_cell *cell, cavum_error *error) {
  cavum_result *solved = NULL;
  cavum_status status = solve_cell(&solved, w, cell, error);
  if (status == CAVUM_OK) status = cavum_pair_solve(&w->pair, cell, error);
  if (status != CAVUM_OK) {
    cavum_result_destroy(&solved);
    return status;
  }
  cavum_result_destroy(&w->solved);
  w->solved = solved;
  w->vacuum_hz = w->factor * cavum_mode_figure(mode_of(w), CAVUM_FIGURE_FREQUENCY).value;
  return CAVUM_OK;
}

static void take_change(walk *w, const cavum_chain_step *step) {
  // Stated as measured, with the gas that is in the cell.
  double before = w->vacuum_hz / w->refractive_index, after = before + step->change_hz.value;
  change_vacuum(w, after / before);
  cavum_sources_add_shape(&w->sources, source_of(step), step->change_hz.uncertainty / after, NULL);
}

// One of the readings of air: its own source, or that of the instrument that is named.
static void add_reading(walk *w, const cavum_chain_step *step, const char *reading,
                        double uncertainty_ppm) {
  char name[CAVUM_STEP_NAME_SIZE + 16];
  snprintf(name, sizeof name, "%.40s, %s", source_of(step), reading);
  cavum_sources_add_gas(&w->sources, name,
                        -cavum_from_unit(uncertainty_ppm, CAVUM_UNIT_PPM) / w->refractive_index);
}

static void take_gas(walk *w, const cavum_chain_step *step) {
  double slopes_ppm[3];
  const cavum_air *u = &step->air_uncertainty;
  cavum_sources_change_gas(&w->sources);
  w->refractive_index = 1.0 + cavum_from_unit(step->refractivity_ppm.value, CAVUM_UNIT_PPM);
  if (step->gas == CAVUM_GAS_STATED) {
    add_reading(w, step, "refractivity", step->refractivity_ppm.uncertainty);
  }
  if (step->gas != CAVUM_GAS_AIR) return;
  cavum_air_slopes(slopes_ppm, &step->air);
  add_reading(w, step, "temperature", slopes_ppm[0] * u->temperature_c);
  add_reading(w, step, "pressure", slopes_ppm[1] * u->pressure_pa);
  add_reading(w, step, "humidity", slopes_ppm[2] * u->humidity_percent);
  cavum_sources_add_gas(&w->sources, FORMULA_SOURCE,
                        -cavum_from_unit(step->formula_ppm, CAVUM_UNIT_PPM) / w->refractive_index);
}

static double solved_hz(const walk *w) {
  return cavum_mode_figure(mode_of(w), CAVUM_FIGURE_FREQUENCY).value;
}

// Scalings wait until a step moves the wall: the frequency of a scaled shape is exact without.
static void scale_now(walk *w) {
  if (w->scale == 1.0) return;
  cavum_cell_scale_path(&w->shape, w->scale, w->scale);
  // Densities are per volume of the shape that was solved; the next solve has the new size.
  w->factor *= w->scale;
  w->scale = 1.0;
}

static cavum_status take_cooling(walk *w, const cavum_chain_step *step, cavum_step *to,
                                 cavum_error *error) {
  double rest = 1.0 - step->contraction.value, of_axis = step->axial_factor;
  double across = 1.0, along = 0.0;  // parts of f that go with each of both contractions
  double pair[CAVUM_NUM_PAIR_MODES] = {0.0};
  if (of_axis != 1.0) {
    scale_now(w);
    cavum_status status = solve(w, &w->shape, error);  // its densities, at its size
    if (status != CAVUM_OK) return status;
    along = -cavum_shape_slope_of_stretch(mode_of(w), solved_hz(w)) / solved_hz(w);
    across = 1.0 - along;
    for (int k = 0; w->pair.side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
      double part = -cavum_pair_part_of_stretch(&w->pair, (cavum_pair_mode)k);
      pair[k] = step->contraction.uncertainty * (1.0 - part + of_axis * part) / rest;
    }
    status = cavum_shape_take_step(&w->shape, step, 0.0, error);
    if (status == CAVUM_OK) status = solve(w, &w->shape, error);
    if (status != CAVUM_OK) return status;
    to->solved = true;
    cavum_sources_add_shape(&w->sources, source_of(step),
                            step->contraction.uncertainty * (across + of_axis * along) / rest,
                            pair);
    return CAVUM_OK;
  }
  // The solved shape stays the larger one: the factor has the scaling.
  change_vacuum(w, 1.0 / rest);
  w->scale *= rest;
  cavum_sources_add_shape(&w->sources, source_of(step), step->contraction.uncertainty / rest, NULL);
  return CAVUM_OK;
}

// ---- steps that move the wall

// Frequency of a copy of a shape that went through a step by an amount.
static cavum_status try_amount(double *frequency_hz, walk *w, const cavum_cell *shape,
                               const cavum_chain_step *step, double amount_m, cavum_error *error) {
  cavum_cell moved;
  cavum_result *solved = NULL;
  cavum_status status = cavum_shape_copy(&moved, shape, error);
  if (status != CAVUM_OK) return status;
  moved.accuracy_other_figures = FREQUENCY_ALONE;
  status = cavum_shape_take_step(&moved, step, amount_m, error);
  if (status == CAVUM_OK) status = solve_cell(&solved, w, &moved, error);
  if (status == CAVUM_OK) {
    const cavum_mode_result *mode = cavum_result_mode(solved, w->steps->mode);
    *frequency_hz = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY).value;
  }
  cavum_result_destroy(&solved);
  cavum_cell_clear(&moved);
  return status;
}

// Frequencies near both ends of a step, for differences.
enum { NUM_TRIES = 2 };

// Differences into the step from both its ends, so that the straight part of a wall is not left.
static cavum_status try_amounts(double tried_hz[NUM_TRIES], walk *w, const cavum_cell *before,
                                const cavum_chain_step *step, cavum_error *error) {
  double amount_m = step->amount_m.value, h = CAVUM_SHAPE_DIFFERENCE_PART * amount_m;
  const double at[NUM_TRIES] = {h, amount_m - h};
  for (int i = 0; i < NUM_TRIES; i++) {
    cavum_status status = try_amount(&tried_hz[i], w, before, step, at[i], error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

// Differences are slopes in the middle of their parts: that from one to the other tells how the
// slope goes on to the ends.
static void set_differences(double slopes[2], const double tried_hz[NUM_TRIES], double amount_m,
                            double before_hz, double behind_hz) {
  double h = CAVUM_SHAPE_DIFFERENCE_PART * amount_m;
  double first = (tried_hz[0] - before_hz) / h, last = (behind_hz - tried_hz[1]) / h;
  double bend = (last - first) / (amount_m - h);
  slopes[0] = first - 0.5 * h * bend;
  slopes[1] = last + 0.5 * h * bend;
}

// Derivative of the frequency of the solved shape by the amount of a step, Hz/m; NAN of steps that
// have none, and of a cut of nothing.
static double slope_of(const walk *w, const cavum_chain_step *step) {
  const cavum_mode_result *mode = mode_of(w);
  switch (step->kind) {
    case CAVUM_STEP_REMOVE:
    case CAVUM_STEP_PRESSURE:
      return cavum_shape_slope_of_depth(mode, &w->shape, &step->depth);
    case CAVUM_STEP_DEPOSIT:
      return -cavum_shape_slope_of_depth(mode, &w->shape, &step->depth);
    case CAVUM_STEP_STRETCH:
    case CAVUM_STEP_PRELOAD:
      return step->whole_over_cell * step->plastic_share *
             cavum_shape_slope_of_stretch(mode, solved_hz(w)) /
             cavum_contour_length_m(&w->shape.path);
    case CAVUM_STEP_TRIM:
    case CAVUM_STEP_WELD:
      if (step->amount_m.value == 0.0) return NAN;
      return cavum_shape_slope_of_cut(mode, solved_hz(w), &w->shape, step->place);
    default:
      return NAN;
  }
}

static bool is_cut(const cavum_chain_step *step) {
  return step->kind == CAVUM_STEP_TRIM || step->kind == CAVUM_STEP_WELD;
}

/** Frequency of a solved shape. */
typedef struct solved_frequency {
  double hz, uncertainty_hz;
} solved_frequency;

static solved_frequency frequency_of(const walk *w) {
  cavum_figure f = cavum_mode_figure(mode_of(w), CAVUM_FIGURE_FREQUENCY);
  return (solved_frequency){f.value, f.uncertainty};
}

// The uncertainty is what both solves leave of the change.
static void explain(cavum_step *to, double before, double behind, double amount_m,
                    double uncertainty_hz) {
  double differs = to->change_hz - to->estimate_hz, curved = 0.5 * (behind - before) * amount_m;
  if (fabs(differs) <= DIFFERS_HZ + DIFFERS_PART * fabs(to->change_hz)) return;
  bool explained =
      fabs(differs - curved) <=
      uncertainty_hz + cavum_max(EXPLAINED * fabs(differs), EVEN_PART * fabs(to->change_hz));
  size_t used = strlen(to->reason);
  snprintf(to->reason + used, sizeof to->reason - used,
           "%sthe slope goes from %.6g to %.6g kHz/um%s", used > 0 ? "; " : "",
           cavum_in_unit(before, CAVUM_UNIT_KHZ_PER_UM),
           cavum_in_unit(behind, CAVUM_UNIT_KHZ_PER_UM),
           explained ? " along the step" : ", and not evenly: the step is large");
}

// Says so, and asks no more of the peaks.
static void note_edge(cavum_step *to, walk *w, const cavum_chain_step *step) {
  double degrees = cavum_in_unit(cavum_shape_edge_rad(&w->shape, step), CAVUM_UNIT_DEGREE);
  if (degrees < SMALLEST_EDGE_DEGREES) return;
  w->shape.accuracy_other_figures = FREQUENCY_ALONE;
  snprintf(to->reason, sizeof to->reason,
           "the cut leaves an edge of %.3g degrees, where the peak field is unbounded", degrees);
}

static void swap_shapes(cavum_cell *a, cavum_cell *b) {
  cavum_cell kept = *a;
  *a = *b;
  *b = kept;
}

// Beside sharp corners that leave no good density, slopes of a cut do not add up to its change.
// They are taken by differences then, or moved alike where differences would be less certain.
static cavum_status mend_slopes(double slopes[2], walk *w, const cavum_cell *before,
                                solved_frequency was, const cavum_chain_step *step,
                                cavum_error *error) {
  double tried_hz[NUM_TRIES], amount_m = step->amount_m.value;
  solved_frequency now = frequency_of(w);
  double change_hz = now.hz - was.hz, unsure_hz = was.uncertainty_hz + now.uncertainty_hz;
  double missing_hz = change_hz - 0.5 * (slopes[0] + slopes[1]) * amount_m;
  bool has_cut = is_cut(step) && amount_m != 0.0;
  if (!has_cut || cavum_shape_slopes_add_up(slopes, amount_m, change_hz, unsure_hz)) {
    return CAVUM_OK;
  }
  if (CAVUM_SHAPE_DIFFERENCE_PART * fabs(missing_hz) <= w->shape.accuracy_frequency * now.hz) {
    for (int end = 0; end < 2; end++) slopes[end] += missing_hz / amount_m;
    return CAVUM_OK;
  }
  cavum_status status = try_amounts(tried_hz, w, before, step, error);
  if (status == CAVUM_OK) set_differences(slopes, tried_hz, amount_m, was.hz, now.hz);
  return status;
}

static cavum_status move_and_solve(double slopes[2], walk *w, const cavum_chain_step *step,
                                   cavum_step *to, cavum_error *error) {
  solved_frequency was = frequency_of(w);
  double amount_m = step->amount_m.value;
  cavum_cell moved;
  // Steps that cannot be are found before anything is solved.
  cavum_status status = cavum_shape_copy(&moved, &w->shape, error);
  if (status != CAVUM_OK) return status;
  CAVUM_TRY(cavum_shape_take_step(&moved, step, amount_m, error));
  slopes[0] = slope_of(w, step);
  bool cut = is_cut(step) && amount_m != 0.0;
  if (cut) cavum_pair_look_at_cut(&w->pair, step);
  swap_shapes(&moved, &w->shape);
  note_edge(to, w, step);
  CAVUM_TRY(solve(w, &w->shape, error));
  slopes[1] = slope_of(w, step);
  CAVUM_TRY(mend_slopes(slopes, w, &moved, was, step, error));
  if (cut) CAVUM_TRY(cavum_pair_close_cut(&w->pair, &moved, step, error));
  swap_shapes(&moved, &w->before[step - w->steps->steps]);
done:
  cavum_cell_clear(&moved);
  return status;
}

// Relative changes of both modes of the halves by the uncertainty of a step.
static void add_pair_slopes(double pair[CAVUM_NUM_PAIR_MODES], const walk *w,
                            const cavum_chain_step *step) {
  for (int k = 0; w->pair.side != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    cavum_pair_mode mode = (cavum_pair_mode)k;
    double slope = cavum_pair_slope(&w->pair, mode, &w->shape, step);
    if (isfinite(slope)) {
      pair[k] = slope * step->amount_m.uncertainty / cavum_pair_hz(&w->pair, mode);
    }
  }
}

static cavum_status take_shape(walk *w, const cavum_chain_step *step, cavum_step *to,
                               cavum_error *error) {
  bool scaled = w->scale != 1.0;
  double amount_m = step->amount_m.value, was_hz = w->vacuum_hz, slopes[2];
  scale_now(w);
  cavum_status status = scaled ? solve(w, &w->shape, error) : CAVUM_OK;
  if (status != CAVUM_OK) return status;
  double unsure_hz = frequency_of(w).uncertainty_hz;
  status = move_and_solve(slopes, w, step, to, error);
  if (status != CAVUM_OK) return status;
  double in_gas = w->factor / w->refractive_index;
  unsure_hz += frequency_of(w).uncertainty_hz;
  to->solved = true;
  to->amount = amount_m;
  to->amount_uncertainty = step->amount_m.uncertainty;
  to->estimate_hz = in_gas * slopes[0] * amount_m;
  to->slope_hz_per_m = in_gas * slopes[1];
  to->change_hz = (w->vacuum_hz - was_hz) / w->refractive_index;
  explain(to, in_gas * slopes[0], in_gas * slopes[1], amount_m, in_gas * unsure_hz);
  if (!isnan(slopes[1])) {
    double pair[CAVUM_NUM_PAIR_MODES] = {0.0};
    add_pair_slopes(pair, w, step);
    cavum_sources_add_shape(&w->sources, source_of(step),
                            w->factor * slopes[1] * step->amount_m.uncertainty / w->vacuum_hz,
                            pair);
  }
  return CAVUM_OK;
}

// By a coefficient, or by the radiation pressure of the shape as it is.
static cavum_status take_lorentz(walk *w, const cavum_chain_step *step, cavum_error *error) {
  cavum_chain_step stated = *step;
  if (step->gradient_v_per_m > 0.0) {
    bool scaled = w->scale != 1.0;
    scale_now(w);
    cavum_status status = scaled ? solve(w, &w->shape, error) : CAVUM_OK;
    if (status != CAVUM_OK) return status;
    cavum_figure one = cavum_mode_figure(mode_of(w), CAVUM_FIGURE_EACC_AT_1_J);
    if (one.state != CAVUM_FIGURE_PRESENT || !(one.value > 0.0)) {
      return cavum_fail(error, CAVUM_ERR_INPUT, "the mode has no accelerating gradient");
    }
    double joules = pow(step->gradient_v_per_m / one.value, 2.0);
    double equator_m = cavum_contour_equator_m(&w->shape.path);
    double change =
        cavum_shape_radiation_change_hz(mode_of(w), solved_hz(w), &w->shape, equator_m, step);
    stated.change_hz.value = joules * change * w->factor / w->refractive_index;
    stated.change_hz.uncertainty = step->relative_uncertainty * fabs(stated.change_hz.value);
  }
  take_change(w, &stated);
  return CAVUM_OK;
}

// An error of a step has its place in the file. A shape too narrow or too fine to be meshed is a
// step that cannot be.
static cavum_status place_error(const walk *w, const cavum_chain_step *step, cavum_status status,
                                const cavum_error *what, cavum_error *error) {
  if (status == CAVUM_ERR_MEMORY) return cavum_fail_memory(error);
  if (status == CAVUM_ERR_MESH) status = CAVUM_ERR_GEOMETRY;
  return cavum_yaml_tree_fail(error, status, w->steps->path, step->line, step->column, "%s: %s",
                              step->name, what->message);
}

static cavum_status take_step(walk *w, const cavum_chain_step *step, cavum_step *to,
                              cavum_error *error) {
  cavum_error what = {0};
  cavum_status status = CAVUM_OK;
  switch (step->kind) {
    case CAVUM_STEP_CHANGE:
    case CAVUM_STEP_ANNEAL:
      take_change(w, step);
      break;
    case CAVUM_STEP_PRESSURE:
      if (step->depth.num_places > 0) {
        status = take_shape(w, step, to, &what);
      } else {
        take_change(w, step);
      }
      break;
    case CAVUM_STEP_LORENTZ:
      status = take_lorentz(w, step, &what);
      break;
    case CAVUM_STEP_AIR:
      take_gas(w, step);
      break;
    case CAVUM_STEP_COOL:
      status = take_cooling(w, step, to, &what);
      break;
    case CAVUM_STEP_REMOVE:
    case CAVUM_STEP_DEPOSIT:
    case CAVUM_STEP_STRETCH:
    case CAVUM_STEP_TRIM:
    case CAVUM_STEP_WELD:
    case CAVUM_STEP_PRELOAD:
      status = take_shape(w, step, to, &what);
      break;
    case CAVUM_STEP_DRAWING:
      break;
  }
  return status == CAVUM_OK ? CAVUM_OK : place_error(w, step, status, &what, error);
}

static bool moves_shape(const cavum_chain_step *step) {
  switch (step->kind) {
    case CAVUM_STEP_DRAWING:
    case CAVUM_STEP_CHANGE:
    case CAVUM_STEP_ANNEAL:
    case CAVUM_STEP_AIR:
      return false;
    case CAVUM_STEP_PRESSURE:
      return step->depth.num_places > 0;
    case CAVUM_STEP_LORENTZ:  // its pressure is that of a shape
      return step->gradient_v_per_m > 0.0;
    case CAVUM_STEP_COOL:
      return step->axial_factor != 1.0;
    default:
      return true;
  }
}

static double root_of_squares(const double *row, int count) {
  double sum = 0.0;
  for (int i = 0; i < count; i++) sum += row[i] * row[i];
  return sqrt(sum);
}

// The halves, where the walk is.
static void note_pair(walk *w, int index) {
  cavum_step *step = w->result->steps[index];
  double *hz[] = {&step->zero_hz, &step->pi_hz};
  double *uncertainty_hz[] = {&step->zero_uncertainty_hz, &step->pi_uncertainty_hz};
  if (w->pair.side == CAVUM_HALF_NONE) return;
  for (int k = 0; k < CAVUM_NUM_PAIR_MODES; k++) {
    double *row = w->pair_rows[k] + (size_t)index * CAVUM_STEP_SOURCES_MOST;
    *hz[k] = w->factor * cavum_pair_hz(&w->pair, (cavum_pair_mode)k) / w->refractive_index;
    for (int s = 0; s < w->sources.count; s++) {
      row[s] = *hz[k] * (w->sources.pair[k][s] + w->sources.gas[s]);
    }
    *uncertainty_hz[k] = root_of_squares(row, w->sources.count);
  }
  step->coupling = 2.0 * (step->pi_hz - step->zero_hz) / (step->pi_hz + step->zero_hz);
}

// Writes down where the walk is: step `index` of the result.
static void note_place(walk *w, int index) {
  cavum_step *step = w->result->steps[index];
  double *row = w->rows + (size_t)index * CAVUM_STEP_SOURCES_MOST, difference = 0.0;
  const double *before = index > 0 ? row - CAVUM_STEP_SOURCES_MOST : NULL;
  step->frequency_hz = w->vacuum_hz / w->refractive_index;
  double by_step[CAVUM_STEP_SOURCES_MOST] = {0.0};
  for (int s = 0; s < w->sources.count; s++) {
    row[s] = step->frequency_hz * (w->sources.shape[s] + w->sources.gas[s]);
    difference =
        before ? row[s] - before[s] * step->frequency_hz / w->result->steps[index - 1]->frequency_hz
               : row[s];
    by_step[s] = difference;
  }
  step->uncertainty_hz = root_of_squares(row, w->sources.count);
  step->change_uncertainty_hz = root_of_squares(by_step, w->sources.count);
  if (step->solved) memcpy(step->figures, mode_of(w)->figures, sizeof step->figures);
  step->change_hz = before ? step->frequency_hz - w->result->steps[index - 1]->frequency_hz : 0.0;
  note_pair(w, index);
}

static cavum_status solve_drawing(walk *w, const cavum_solve_options *options, cavum_error *error) {
  const cavum_steps *steps = w->steps;
  cavum_solve_options own = cavum_solve_options_default();
  if (options) own = *options;
  for (int i = 0; i < steps->num_steps; i++) w->moves = w->moves || moves_shape(&steps->steps[i]);
  w->moves = w->moves || steps->half != CAVUM_HALF_NONE;
  w->moves = w->moves || steps->equator_allowance_m > 0.0 || steps->iris_allowance_m > 0.0;
  own.profiles = own.profiles || w->moves;
  cavum_status status = cavum_solver_create(&w->solver, &own, error);
  if (status == CAVUM_OK) cavum_solver_use_densities_alone(w->solver);
  if (status == CAVUM_OK) {
    status = cavum_pair_start(&w->pair, (cavum_half_side)steps->half, &own, error);
  }
  if (status == CAVUM_OK && w->moves) status = cavum_shape_draw(&w->shape, steps, error);
  if (status == CAVUM_OK) status = solve(w, w->moves ? &w->shape : &steps->cell, error);
  if (status != CAVUM_OK) return status;
  w->result->steps[0]->solved = true;
  memcpy(w->result->label, mode_of(w)->label, sizeof w->result->label);
  cavum_sources_add_shape(&w->sources, "drawing", steps->drawing_uncertainty_hz / w->vacuum_hz,
                          NULL);
  return CAVUM_OK;
}

// Rows of all places as shape [num_steps, count].
static cavum_status keep_rows(double **kept, const double *rows, const walk *w,
                              cavum_error *error) {
  int count = w->sources.count, num_steps = w->result->num_steps;
  double *made = cavum_alloc((int64_t)(count > 0 ? count : 1) * num_steps, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  for (int i = 0; i < num_steps; i++) {
    for (int s = 0; s < count; s++) {
      made[i * count + s] = rows[(size_t)i * CAVUM_STEP_SOURCES_MOST + (size_t)s];
    }
  }
  *kept = made;
  return CAVUM_OK;
}

static cavum_status keep_sources(walk *w, cavum_error *error) {
  cavum_steps_result *result = w->result;
  int count = w->sources.count;
  result->sources = cavum_alloc(count > 0 ? count : 1, sizeof(cavum_step_source *));
  if (!result->sources) return cavum_fail_memory(error);
  cavum_status status = keep_rows(&result->sensitivity_hz, w->rows, w, error);
  if (status == CAVUM_OK && w->pair.side != CAVUM_HALF_NONE) {
    status = keep_rows(&result->zero_sensitivity_hz, w->pair_rows[CAVUM_PAIR_ZERO], w, error);
    if (status == CAVUM_OK) {
      status = keep_rows(&result->pi_sensitivity_hz, w->pair_rows[CAVUM_PAIR_PI], w, error);
    }
  }
  if (status != CAVUM_OK) return status;
  for (int s = 0; s < count; s++) {
    result->sources[s] = cavum_alloc(1, sizeof(cavum_step_source));
    if (!result->sources[s]) return cavum_fail_memory(error);
    result->num_sources = s + 1;
    snprintf(result->sources[s]->name, CAVUM_STEP_NAME_SIZE, "%s", w->sources.names[s]);
  }
  return CAVUM_OK;
}

cavum_status cavum_steps_go_forward(cavum_cell *before, cavum_steps_result *result,
                                    const cavum_steps *steps, const cavum_solve_options *options,
                                    cavum_error *error) {
  cavum_status status = CAVUM_OK;
  walk *w = cavum_alloc(1, sizeof *w);
  if (!w) return cavum_fail_memory(error);
  w->before = before;
  w->result = result;
  w->steps = steps;
  cavum_cell_set_defaults(&w->shape);
  w->refractive_index = w->factor = w->scale = 1.0;
  w->rows = cavum_alloc((int64_t)result->num_steps * CAVUM_STEP_SOURCES_MOST, sizeof *w->rows);
  if (!w->rows) CAVUM_TRY(cavum_fail_memory(error));
  for (int k = 0; steps->half != CAVUM_HALF_NONE && k < CAVUM_NUM_PAIR_MODES; k++) {
    w->pair_rows[k] =
        cavum_alloc((int64_t)result->num_steps * CAVUM_STEP_SOURCES_MOST, sizeof(double));
    if (!w->pair_rows[k]) CAVUM_TRY(cavum_fail_memory(error));
  }
  CAVUM_TRY(solve_drawing(w, options, error));
  note_place(w, 0);
  for (int i = 0; i < steps->num_steps; i++) {
    CAVUM_TRY(take_step(w, &steps->steps[i], result->steps[i + 1], error));
    note_place(w, i + 1);
  }
  CAVUM_TRY(keep_sources(w, error));
done:
  cavum_result_destroy(&w->solved);
  cavum_solver_destroy(&w->solver);
  cavum_cell_clear(&w->shape);
  cavum_pair_clear(&w->pair);
  for (int k = 0; k < CAVUM_NUM_PAIR_MODES; k++) free(w->pair_rows[k]);
  free(w->rows);
  free(w);
  return status;
}
