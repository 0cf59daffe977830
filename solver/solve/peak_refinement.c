// SPDX-License-Identifier: GPL-3.0-or-later
// Peaks of E: which are refined on a region, and what that says about their uncertainty.
#include "solve/peak_refinement.h"

#include "base/base.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"

// Part of the uncertainty of a gradient that a peak on a region takes over: a peak over a gradient
// that lags behind.
static const double EACC_PART = 0.1;
// A second region follows where peaks are predicted to lack no more degrees than it brings and what
// it cannot make smaller is at most this part of what is asked for.
static const double FIXED_PART = 0.5;
enum { REACH = CAVUM_PEAK_DEGREES };

// Uncertainty of a peak of E that a region does not remove, beyond the tail of its own degrees: of
// what the next degrees of the whole mesh may still change the part that it could not correct in
// the last change, and some of the gradient.
static double uncorrected_uncertainty(const cavum_mode_history *history,
                                      const cavum_mode_values *values,
                                      const cavum_peak_steps *steps, double value) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  const cavum_history *peak = &history->figures[id];
  const cavum_figure *eacc = &values->figures[CAVUM_FIGURE_EACC_AT_1_J];
  double change = peak->change[peak->count - 1];
  double part = steps->spread_of_whole < change ? steps->spread_of_whole / change : 1.0;
  return part * cavum_uncertainty_of_last(peak, policy->convergence, policy->rounding_floor) +
         EACC_PART * eacc->uncertainty / eacc->value * value;
}

// A peak that is refined: its degrees on the whole mesh and then on regions, and the part of its
// uncertainty that no further degree of a region makes smaller.
typedef struct refined_peak {
  int mode;
  cavum_history history;
  double fixed;
} refined_peak;

// Puts what a region says about a peak of E in the place of what the whole mesh says. The degrees
// of the region carry the history on.
static void take_refined(refined_peak *peak, cavum_ladder *ladder, const cavum_peak_steps *steps) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const cavum_figure_policy *policy = cavum_figure_policy_of(id);
  cavum_mode_values *values = &ladder->solution->modes[peak->mode].values[0];
  cavum_figure *figure = &values->figures[id];
  double iteration = cavum_figure_policy_vector_error(
      id, cavum_solution_vector_error(ladder->solution, peak->mode, 0) + values->mixing, values);
  for (int i = 0; i < CAVUM_PEAK_DEGREES; i++) {
    const cavum_peak_step *step = &steps->step[i];
    figure->value = step->electric.value;
    figure->at = step->electric.at;
    cavum_history_add(&peak->history, figure->value, step->spread, iteration * figure->value);
  }
  peak->fixed =
      uncorrected_uncertainty(&ladder->history[peak->mode], values, steps, figure->value) +
      iteration * figure->value;
  figure->uncertainty =
      cavum_uncertainty_of_last(&peak->history, policy->convergence, policy->rounding_floor) +
      steps->step[CAVUM_PEAK_DEGREES - 1].electric.gap + peak->fixed;
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
  return cavum_accuracy_is_exhausted(&ladder->solution->modes[m].values[0], id, cell);
}

// Peaks of E that are not accurate enough; returns how many.
static int list_peaks(refined_peak *peaks, const cavum_ladder *ladder, const cavum_cell *cell) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  int count = 0;
  for (int m = 0; m < ladder->num_modes; m++) {
    if (has_accurate_peak(ladder, cell, m)) continue;
    peaks[count++] = (refined_peak){.mode = m, .history = ladder->history[m].figures[id]};
  }
  return count;
}

// Whether another region may make a peak accurate that one did not.
static bool is_within_reach(const refined_peak *peak, const cavum_ladder *ladder,
                            const cavum_cell *cell) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  const cavum_mode_values *values = &ladder->solution->modes[peak->mode].values[0];
  return cavum_accuracy_over_wanted(peak->fixed, values, id, cell) < FIXED_PART &&
         cavum_accuracy_missing_degrees(values, id, cell, &peak->history) <= REACH;
}

// The peaks that a region is solved for, with the solution that has their modes one degree less:
// at first all; then what is not accurate yet, none where the mesh needs another degree anyway.
static int list_tasks(cavum_peak_task *tasks, refined_peak **of, refined_peak *peaks, int count,
                      const cavum_ladder *ladder, const cavum_cell *cell, bool is_first) {
  const cavum_solution *solution = ladder->solution, *below = solution_below(ladder);
  const cavum_mesh_boundary *boundary = &ladder->memory->boundary;
  int some = 0;
  for (int i = 0; below && i < count; i++) {
    int m = peaks[i].mode;
    if (has_accurate_peak(ladder, cell, m)) continue;
    if (!is_first && !is_within_reach(&peaks[i], ladder, cell)) return 0;
    of[some] = &peaks[i];
    tasks[some++] =
        (cavum_peak_task){.now = peak_source(solution, boundary, m, 0),
                          .before = peak_source(below, boundary, m, below == solution ? 1 : 0),
                          .in_class = solution->modes[m].in_class,
                          .samples = ladder->history[m].samples};
  }
  return some;
}

static cavum_status refine_peaks(cavum_ladder *ladder, const cavum_cell *cell, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  cavum_problem_memory *memory = ladder->memory;
  cavum_peak_task *tasks = cavum_alloc(ladder->num_modes, sizeof *tasks);
  cavum_peak_steps *steps = cavum_alloc(ladder->num_modes, sizeof *steps);
  refined_peak *peaks = cavum_alloc(ladder->num_modes, sizeof *peaks);
  refined_peak **of = cavum_alloc(ladder->num_modes, sizeof *of);
  if (!tasks || !steps || !peaks || !of) CAVUM_TRY(cavum_fail_memory(error));
  int count = list_peaks(peaks, ladder, cell);
  for (int r = 0; r < CAVUM_PEAK_REGIONS; r++) {
    bool done = false;
    int some = list_tasks(tasks, of, peaks, count, ladder, cell, r == 0);
    if (some == 0) break;
    CAVUM_TRY(cavum_peak_region_refine(steps, &done, &memory->peak_regions[r], memory->topology,
                                       tasks, some, r * CAVUM_PEAK_DEGREES, error));
    if (!done) break;
    for (int i = 0; i < some; i++) take_refined(of[i], ladder, &steps[i]);
  }
  for (int i = 0; i < count; i++) {
    const cavum_mode_values *values = &ladder->solution->modes[peaks[i].mode].values[0];
    cavum_ladder_judge(ladder, cell, values, &peaks[i].history, id);
  }
done:
  free(tasks);
  free(steps);
  free(peaks);
  free(of);
  return status;
}

cavum_status cavum_peak_refinement_judge(cavum_ladder *ladder, const cavum_cell *cell,
                                         cavum_error *error) {
  const cavum_figure_id id = CAVUM_FIGURE_EPK_OVER_EACC;
  if (!ladder->has_regions) return CAVUM_OK;
  if (ladder->reached) return refine_peaks(ladder, cell, error);
  for (int m = 0; m < ladder->num_modes; m++) {
    int missing = cavum_accuracy_missing_degrees(&ladder->solution->modes[m].values[0], id, cell,
                                                 &ladder->history[m].figures[id]) -
                  CAVUM_PEAK_DEGREES;
    cavum_ladder_require(ladder, missing);
  }
  return CAVUM_OK;
}
