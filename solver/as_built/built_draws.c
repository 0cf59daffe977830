// SPDX-License-Identifier: GPL-3.0-or-later
// Each wall is solved anew: this is what checks the derivatives, and all there is for peaks.
#include "as_built/built_draws.h"

#include <gsl/gsl_randist.h>
#include <gsl/gsl_rng.h>
#include <math.h>

#include "base/base.h"
#include "base/stop.h"
#include "cavum/solver.h"

// A draw has two noises, the measured wall one: a peak that is the most of many places is, in a
// draw, higher by this part of what one noise makes of it.
static const double SECOND_PART = 0.41421356237309505;
// Draws are solved to this part of the standard uncertainty that is to be checked, and no better
// than the cell; a draw that is worse by this factor is left out.
static const double ACCURACY_PART = 0.05, ACCURACY_LARGEST = 1e-4, WORST = 4.0;

/** Sums over draws. */
typedef struct sums {
  int count[CAVUM_NUM_FIGURES];
  double mean[CAVUM_NUM_FIGURES], squares[CAVUM_NUM_FIGURES];
} sums;

// Updates mean and sum of squares about it.
static void add(sums *s, int id, double value) {
  double off = value - s->mean[id];
  s->count[id]++;
  s->mean[id] += off / s->count[id];
  s->squares[id] += off * (value - s->mean[id]);
}

// What another wall would mend; its like is left out.
static bool is_of_wall(cavum_status status) {
  return status == CAVUM_ERR_GEOMETRY || status == CAVUM_ERR_MESH ||
         status == CAVUM_ERR_NOT_CONVERGED || status == CAVUM_ERR_INCOMPLETE ||
         status == CAVUM_ERR_RANGE || status == CAVUM_ERR_INPUT;
}

// Takes the figures of a draw whose frequency is good enough; false where it is not.
static bool take(sums *s, const cavum_mode_result *mode, double accuracy) {
  cavum_figure of_f = cavum_mode_figure(mode, CAVUM_FIGURE_FREQUENCY);
  if (of_f.state != CAVUM_FIGURE_PRESENT || of_f.uncertainty > accuracy * of_f.value) return false;
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_figure f = cavum_mode_figure(mode, (cavum_figure_id)id);
    if (f.state == CAVUM_FIGURE_PRESENT) add(s, id, f.value);
  }
  return true;
}

static double accuracy_of(const cavum_as_built *made, const cavum_cell *cell) {
  const cavum_as_built_figure *f = &made->figures[CAVUM_FIGURE_FREQUENCY];
  double part = ACCURACY_PART * f->uncertainty / f->value;
  return cavum_min(ACCURACY_LARGEST, cavum_max(cell->accuracy_frequency, part));
}

static cavum_status solve_one(sums *s, bool *solved, cavum_solver *solver,
                              const cavum_built_pair *pair, const cavum_built_draws *draws,
                              double accuracy, const cavum_survey_noise *noise,
                              cavum_error *error) {
  cavum_cell cell = *draws->cell;  // borrows all but its contour
  cavum_result *result = NULL;
  cell.path = (cavum_contour){0};
  cell.accuracy_frequency = accuracy;
  *solved = false;
  cavum_status status = cavum_survey_draw(&cell.path, pair->survey, noise, error);
  if (status == CAVUM_OK) status = cavum_solver_solve(&result, solver, &cell, error);
  *solved = take(s, cavum_result_mode(result, draws->mode), WORST * accuracy);
  cavum_contour_clear(&cell.path);
  cavum_result_destroy(&result);
  return is_of_wall(status) ? CAVUM_OK : status;
}

static void give(cavum_as_built *made, const sums *s) {
  for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
    cavum_as_built_figure *f = &made->figures[id];
    if (!f->exists || s->count[id] < 2) continue;
    f->sampled = sqrt(s->squares[id] / (s->count[id] - 1));
    f->sampled_shift = s->mean[id] - f->value;
    if (!isnan(f->uncertainty)) continue;
    f->uncertainty = hypot(f->sampled, f->sampled_shift / SECOND_PART);
  }
}

cavum_status cavum_built_draws_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                    const cavum_built_draws *draws, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_solver *solver = NULL;
  sums all = {0};
  int64_t n = pair->survey->view.num_points, all_numbers = n + cavum_survey_num_bends(pair->survey);
  double accuracy = accuracy_of(made, draws->cell);
  double *noise_m = cavum_alloc(all_numbers, sizeof *noise_m);
  gsl_rng *rng = gsl_rng_alloc(gsl_rng_mt19937);
  if (!noise_m || !rng) CAVUM_TRY(cavum_fail_memory(error));
  gsl_rng_set(rng, (unsigned long)draws->seed);
  CAVUM_TRY(cavum_solver_create(&solver, draws->options, error));
  for (int k = 0; k < draws->num_draws; k++) {
    bool solved = false;
    for (int64_t i = 0; i < all_numbers; i++) {
      noise_m[i] = gsl_ran_gaussian(rng, pair->survey->scatter_m);
    }
    const cavum_survey_noise noise = {noise_m, noise_m + n,
                                      gsl_ran_gaussian(rng, pair->probe_uncertainty_m)};
    CAVUM_TRY(solve_one(&all, &solved, solver, pair, draws, accuracy, &noise, error));
    made->num_draws += solved;
  }
  give(made, &all);
done:
  cavum_solver_destroy(&solver);
  if (rng) gsl_rng_free(rng);
  free(noise_m);
  return status;
}
