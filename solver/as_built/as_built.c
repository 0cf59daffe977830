// SPDX-License-Identifier: GPL-3.0-or-later
// The measured wall and its drawing, solved, and what lies between them.
#include "cavum/as_built.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "as_built/built_draws.h"
#include "as_built/built_figures.h"
#include "as_built/built_survey.h"
#include "base/base.h"
#include "base/sized.h"
#include "cell/file.h"
#include "solve/options.h"

static const cavum_sized SIZED = {.name = "choices of a wall as built",
                                  .maker = "cavum_as_built_choices_default()",
                                  .first = sizeof(cavum_as_built_choices),
                                  .full = sizeof(cavum_as_built_choices)};

void cavum_as_built_choices_set_defaults(cavum_as_built_choices *choices, size_t struct_size) {
  const cavum_as_built_choices defaults = {.seed = 1};
  if (choices) cavum_sized_give(choices, struct_size, &defaults, &SIZED);
}

void cavum_as_built_destroy(cavum_as_built **built) {
  if (!built || !*built) return;
  free((*built)->title);
  free((*built)->sections);
  free((*built)->along_m);
  free((*built)->z_m);
  free((*built)->r_m);
  free((*built)->deviation_m);
  free((*built)->deviation_uncertainty_m);
  free((*built)->slope_hz_per_m2);
  free((*built)->change_hz_per_m);
  free((*built)->outliers);
  free(*built);
  *built = NULL;
}

static cavum_status take_choices(cavum_as_built_choices *choices,
                                 const cavum_as_built_choices *given, cavum_error *error) {
  *choices = cavum_as_built_choices_default();
  if (given) {
    cavum_status status = cavum_sized_take(choices, given, &SIZED, error);
    if (status != CAVUM_OK) return status;
  }
  if (choices->num_draws < 0 || choices->num_draws > CAVUM_AS_BUILT_DRAWS_MOST) {
    return cavum_fail(error, CAVUM_ERR_RANGE, "%d draws, expected 0 to %d", choices->num_draws,
                      CAVUM_AS_BUILT_DRAWS_MOST);
  }
  if (!(choices->section_m >= 0.0) || choices->mode < 0) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "a section of the wall is as long as 0 m or more, and modes count from 0");
  }
  return CAVUM_OK;
}

/** All that a comparison is made of. */
typedef struct work {
  cavum_as_built_choices choices;
  cavum_solve_options options;
  cavum_cell cell;               // owned once its struct_size is set
  cavum_measured_cell measured;  // owned
  cavum_result *drawn, *built;   // owned
  cavum_built_pair pair;         // its points are owned
} work;

static void clear_work(work *w) {
  cavum_built_points_clear(&w->pair.drawn);
  cavum_built_points_clear(&w->pair.built);
  cavum_result_destroy(&w->drawn);
  cavum_result_destroy(&w->built);
  cavum_measured_cell_clear(&w->measured);
  if (w->cell.struct_size > 0) cavum_cell_clear(&w->cell);
}

// A result that is not as accurate as asked for is compared too.
static bool is_result(cavum_status status, const cavum_result *result) {
  return status == CAVUM_OK || (status == CAVUM_ERR_NOT_CONVERGED && result);
}

// The drawing is asked for what the measured cell is.
static cavum_status solve_both(work *w, cavum_error *error) {
  cavum_cell drawing = w->measured.drawing;  // borrows
  cavum_solve_options options = w->options;
  options.profiles = options.derivatives = true;
  options.wall_derivatives = options.coupling = false;
  options.derivatives_of = UINT64_C(1) << CAVUM_FIGURE_FREQUENCY |
                           UINT64_C(1) << CAVUM_FIGURE_GEOMETRY_FACTOR |
                           UINT64_C(1) << CAVUM_FIGURE_R_OVER_Q_LINAC;
  drawing.beta = w->cell.beta;
  drawing.accelerating_length_m = w->cell.accelerating_length_m;
  drawing.num_modes = w->cell.num_modes;
  drawing.near_hz = w->cell.near_hz;
  drawing.accuracy_frequency = w->cell.accuracy_frequency;
  drawing.accuracy_other_figures = w->cell.accuracy_other_figures;
  drawing.wall = w->cell.wall;
  cavum_status status = cavum_solve(&w->built, &w->cell, &options, error);
  if (!is_result(status, w->built)) return status;
  cavum_error what = {0};
  cavum_status of_drawing = cavum_solve(&w->drawn, &drawing, &options, &what);
  if (is_result(of_drawing, w->drawn) && status != CAVUM_OK) return status;
  if (error && of_drawing != CAVUM_OK) *error = what;
  return of_drawing;
}

static cavum_status take_modes(cavum_solved_pair *solved, const work *w, cavum_error *error) {
  *solved = (cavum_solved_pair){.cell = &w->cell,
                                .drawn = cavum_result_mode(w->drawn, w->choices.mode),
                                .built = cavum_result_mode(w->built, w->choices.mode),
                                .accelerating_length_m = w->cell.accelerating_length_m};
  if (solved->drawn && solved->built) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_USAGE, "mode %d: the cell asks for %d", w->choices.mode + 1,
                    w->cell.num_modes);
}

static cavum_status take_survey(cavum_as_built *made, const work *w, const cavum_mode_result *mode,
                                cavum_error *error) {
  const cavum_survey *s = &w->measured.survey;
  made->mode = w->choices.mode;
  made->title = cavum_copy_text(w->cell.title);
  if (!made->title) return cavum_fail_memory(error);
  memcpy(made->label, mode->label, sizeof made->label);
  made->num_points = s->view.num_points;
  made->num_used = s->num_used;
  made->num_outliers = s->num_outliers;
  made->num_beyond = s->num_beyond;
  made->stated_scatter_m = s->settings.scatter_m;
  made->found_scatter_m = s->found_scatter_m;
  made->scatter_m = s->scatter_m;
  made->probe_uncertainty_m = w->measured.probe_uncertainty_m;
  memcpy(made->motion, s->view.motion, sizeof made->motion);
  made->shift_uncertainty_m = s->view.shift_uncertainty_m;
  made->accuracy_reached = w->drawn->accuracy_reached && w->built->accuracy_reached;
  cavum_status status = cavum_built_planes_fill(made, s, error);
  return status == CAVUM_OK ? cavum_built_outliers_fill(made, s, error) : status;
}

static cavum_status compare(cavum_as_built *made, work *w, cavum_error *error) {
  cavum_solved_pair solved;
  cavum_status status = take_modes(&solved, w, error);
  if (status != CAVUM_OK) return status;
  cavum_built_pair *pair = &w->pair;
  pair->survey = &w->measured.survey;
  pair->probe_uncertainty_m = w->measured.probe_uncertainty_m;
  CAVUM_TRY(take_survey(made, w, solved.built, error));
  CAVUM_TRY(cavum_built_points_make(&pair->drawn, solved.drawn, pair->survey, error));
  CAVUM_TRY(cavum_built_points_make(&pair->built, solved.built, pair->survey, error));
  CAVUM_TRY(cavum_built_figures_fill(made, pair, &solved, error));
  CAVUM_TRY(cavum_built_sections_fill(made, pair, w->choices.section_m, error));
  CAVUM_TRY(cavum_built_places_fill(made, pair, error));
  if (w->choices.num_draws > 0) {
    const cavum_built_draws draws = {.cell = &w->cell,
                                     .mode = w->choices.mode,
                                     .num_draws = w->choices.num_draws,
                                     .seed = w->choices.seed,
                                     .options = &w->options};
    CAVUM_TRY(cavum_built_draws_fill(made, pair, &draws, error));
  }
done:
  return status;
}

cavum_status cavum_as_built_run(cavum_as_built **built, const char *path,
                                const cavum_as_built_choices *choices,
                                const cavum_solve_options *options, cavum_error *error) {
  if (!built || !path) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  work w = {0};
  cavum_as_built *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  CAVUM_TRY(take_choices(&w.choices, choices, error));
  CAVUM_TRY(cavum_solve_options_take(&w.options, options, error));
  CAVUM_TRY(cavum_cell_file_read_as_built(&w.cell, &w.measured, path, error));
  cavum_status solved = solve_both(&w, error);
  if (!w.built || !w.drawn) CAVUM_TRY(solved);
  CAVUM_ASSERT(w.built && w.drawn);
  // What is wrong with the accuracy is said last, if nothing else is wrong.
  cavum_error what = {0};
  status = compare(made, &w, &what);
  if (status != CAVUM_OK) {
    if (error) *error = what;
    goto done;
  }
  *built = made;
  made = NULL;
  status = solved;
done:
  clear_work(&w);
  cavum_as_built_destroy(&made);
  return status;
}
