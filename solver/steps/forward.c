// SPDX-License-Identifier: GPL-3.0-or-later
// Forwards: f behind a step is f of the shape in vacuum over the refractive index of the gas.
#include "steps/forward.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "steps/air.h"
#include "steps/sources.h"

static const char FORMULA_SOURCE[] = "refractivity formula";

/** A chain as it runs. */
typedef struct walk {
  cavum_steps_result *result;
  cavum_sources sources;
  double vacuum_hz;        /**< Of the shape. */
  double refractive_index; /**< Of the gas. */
  double *rows;            /**< Owned, shape [num_steps, CAVUM_STEP_SOURCES_MOST]. */
} walk;

static const char *source_of(const cavum_chain_step *step) {
  return step->source[0] ? step->source : step->name;
}

static void change_vacuum(walk *w, double factor) { w->vacuum_hz *= factor; }

static void take_change(walk *w, const cavum_chain_step *step) {
  // Stated as measured, with the gas that is in the cell.
  double before = w->vacuum_hz / w->refractive_index, after = before + step->change_hz.value;
  change_vacuum(w, after / before);
  cavum_sources_add_shape(&w->sources, source_of(step), step->change_hz.uncertainty / after);
}

// One of the readings of air: its own source, or that of the instrument that is named.
static void add_reading(walk *w, const cavum_chain_step *step, const char *reading,
                        double uncertainty_ppm) {
  char name[CAVUM_STEP_NAME_SIZE + 16];
  snprintf(name, sizeof name, "%.40s, %s", source_of(step), reading);
  cavum_sources_add_gas(&w->sources, name, -1e-6 * uncertainty_ppm / w->refractive_index);
}

static void take_gas(walk *w, const cavum_chain_step *step) {
  double slopes_ppm[3];
  const cavum_air *u = &step->air_uncertainty;
  cavum_sources_change_gas(&w->sources);
  w->refractive_index = 1.0 + 1e-6 * step->refractivity_ppm.value;
  if (step->gas == CAVUM_GAS_STATED) {
    add_reading(w, step, "refractivity", step->refractivity_ppm.uncertainty);
  }
  if (step->gas != CAVUM_GAS_AIR) return;
  cavum_air_slopes(slopes_ppm, &step->air);
  add_reading(w, step, "temperature", slopes_ppm[0] * u->temperature_c);
  add_reading(w, step, "pressure", slopes_ppm[1] * u->pressure_pa);
  add_reading(w, step, "humidity", slopes_ppm[2] * u->humidity_percent);
  cavum_sources_add_gas(&w->sources, FORMULA_SOURCE,
                        -1e-6 * step->formula_ppm / w->refractive_index);
}

static void take_cooling(walk *w, const cavum_chain_step *step) {
  double rest = 1.0 - step->contraction.value;
  change_vacuum(w, 1.0 / rest);
  cavum_sources_add_shape(&w->sources, source_of(step), step->contraction.uncertainty / rest);
}

static void take_step(walk *w, const cavum_chain_step *step) {
  switch (step->kind) {
    case CAVUM_STEP_CHANGE:
    case CAVUM_STEP_ANNEAL:
      take_change(w, step);
      break;
    case CAVUM_STEP_AIR:
      take_gas(w, step);
      break;
    case CAVUM_STEP_COOL:
      take_cooling(w, step);
      break;
    case CAVUM_STEP_DRAWING:
      break;
  }
}

static double root_of_squares(const double *row, int count) {
  double sum = 0.0;
  for (int i = 0; i < count; i++) sum += row[i] * row[i];
  return sqrt(sum);
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
  step->change_hz = before ? step->frequency_hz - w->result->steps[index - 1]->frequency_hz : 0.0;
}

static cavum_status solve_drawing(walk *w, const cavum_steps *steps,
                                  const cavum_solve_options *options, cavum_error *error) {
  cavum_result *solved = NULL;
  cavum_status status = cavum_solve(&solved, &steps->cell, options, error);
  const cavum_mode_result *mode = cavum_result_mode(solved, steps->mode);
  if (status == CAVUM_OK && !mode) {
    status = cavum_fail(error, CAVUM_ERR_USAGE, "the cell has no mode %d", steps->mode + 1);
  }
  if (status == CAVUM_OK) {
    cavum_figure frequency = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY);
    w->vacuum_hz = frequency.value;
    memcpy(w->result->label, mode->label, sizeof w->result->label);
    cavum_sources_add_shape(&w->sources, "drawing",
                            steps->drawing_uncertainty_hz / frequency.value);
  }
  cavum_result_destroy(&solved);
  return status;
}

static cavum_status keep_sources(walk *w, cavum_error *error) {
  cavum_steps_result *result = w->result;
  int count = w->sources.count;
  result->sources = cavum_alloc(count > 0 ? count : 1, sizeof(cavum_step_source *));
  result->sensitivity_hz =
      cavum_alloc((int64_t)(count > 0 ? count : 1) * result->num_steps, sizeof(double));
  if (!result->sources || !result->sensitivity_hz) return cavum_fail_memory(error);
  for (int s = 0; s < count; s++) {
    result->sources[s] = cavum_alloc(1, sizeof(cavum_step_source));
    if (!result->sources[s]) return cavum_fail_memory(error);
    result->num_sources = s + 1;
    snprintf(result->sources[s]->name, CAVUM_STEP_NAME_SIZE, "%s", w->sources.names[s]);
    for (int i = 0; i < result->num_steps; i++) {
      result->sensitivity_hz[i * count + s] = w->rows[i * CAVUM_STEP_SOURCES_MOST + s];
    }
  }
  return CAVUM_OK;
}

cavum_status cavum_steps_go_forward(cavum_steps_result *result, const cavum_steps *steps,
                                    const cavum_solve_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  walk *w = cavum_alloc(1, sizeof *w);
  if (!w) return cavum_fail_memory(error);
  w->result = result;
  w->refractive_index = 1.0;
  w->rows = cavum_alloc((int64_t)result->num_steps * CAVUM_STEP_SOURCES_MOST, sizeof *w->rows);
  if (!w->rows) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(solve_drawing(w, steps, options, error));
  note_place(w, 0);
  for (int i = 0; i < steps->num_steps; i++) {
    take_step(w, &steps->steps[i]);
    note_place(w, i + 1);
  }
  CAVUM_TRY(keep_sources(w, error));
done:
  free(w->rows);
  free(w);
  return status;
}
