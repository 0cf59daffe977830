// SPDX-License-Identifier: GPL-3.0-or-later
// Rising degrees on one mesh. Every solution starts from the modes of the one before; the histories
// of all figures give their uncertainties; the climb ends when they meet the accuracy asked for.
#include "solve/ladder.h"

#include <stdio.h>

#include "base/base.h"
#include "solve/accuracy.h"
#include "solve/figure_policy.h"
#include "solve/ladder_solution.h"
#include "solve/peak_refinement.h"

// Where a mesh is given up for a finer one, and where climbing stops when it is hopeless.
enum { GIVE_UP_AT = 13, HOPELESS_FROM = 10 };
// Work of the highest degree up to which the climb goes there all the same: figures that are out of
// reach get as far as they can, and whoever asks for less gets no further.
static const double CHEAP_S = 2.0;

static cavum_status start_history(cavum_ladder *ladder, cavum_error *error) {
  if (ladder->history) return CAVUM_OK;
  ladder->num_modes = ladder->solution->num_modes;
  ladder->history = cavum_alloc(ladder->num_modes, sizeof *ladder->history);
  return ladder->history ? CAVUM_OK : cavum_fail_memory(error);
}

// Takes in one mode at one degree.
static void take_mode(cavum_ladder *ladder, const cavum_ladder_request *request, int m, int below,
                      double quadrature_error) {
  cavum_solution_mode *mode = &ladder->solution->modes[m];
  double mixing = mode->values[below].mixing = cavum_solution_mixing(ladder->solution, m);
  int degree = ladder->solution->reference.degree - below;
  cavum_thin_conductor thin = cavum_thin_conductor_find(&ladder->memory->mesh, degree,
                                                        mode->k2_per_m2, CAVUM_THIN_LACK_MOST);
  if (m == 0 || thin.part > ladder->thin.part) ladder->thin = thin;
  const cavum_mode_at_degree now = {
      .values = &mode->values[below],
      .samples = mode->samples[below],
      .boundary = &ladder->memory->boundary,
      .degree = degree,
      .vector_error = cavum_solution_vector_error(ladder->solution, m, below) + mixing,
      .quadrature_error = quadrature_error,
      .unfelt = thin.part + thin.rounding,
      .ungraded = ladder->keeps_mesh,
      .curves = request->curves};
  cavum_mode_history_add(&ladder->history[m], &now, request->cell);
  mode->samples[below] = NULL;
  for (int i = 0; i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    if (id == CAVUM_FIGURE_EPK_OVER_EACC && ladder->has_regions) continue;
    cavum_ladder_judge(ladder, request->cell, now.values, &ladder->history[m].figures[id], id);
  }
}

// Takes in the values of one degree, the highest of the solution or one `below` it.
static void update_histories(cavum_ladder *ladder, const cavum_ladder_request *request, int below) {
  ladder->reached = ladder->num_steps + 1 >= CAVUM_DEGREES_LEAST;
  ladder->missing = ladder->reached ? 0 : 1;
  ladder->nearest = 0;
  ladder->degree = ladder->solution->reference.degree - below;
  ladder->out_of_reach = false;
  ladder->worst_one_less = 0.0;
  int count = ladder->solution->num_modes < ladder->num_modes ? ladder->solution->num_modes
                                                              : ladder->num_modes;
  double quadrature_error =
      cavum_discretisation_quadrature_error(&ladder->solution->discretisation);
  for (int m = 0; m < count; m++) take_mode(ladder, request, m, below, quadrature_error);
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
      .num_unknowns = (cavum_index)cavum_space_size(solution->mesh, degree),
      .frequency_change = NAN,
      .figure_change = NAN};
  const cavum_mode_history *first = &ladder->history[0];
  if (ladder->num_modes > 0) {
    step.frequency_hz = solution->modes[0].values[below].figures[CAVUM_FIGURE_FREQUENCY].value;
  }
  if (ladder->num_modes > 0 && first->figures[CAVUM_FIGURE_FREQUENCY].count >= 2) {
    step.figure_change = 0.0;
    step.frequency_change = relative_change(&first->figures[CAVUM_FIGURE_FREQUENCY]);
    for (int id = CAVUM_FIGURE_FREQUENCY + 1; id < CAVUM_NUM_FIGURES; id++) {
      if (cavum_figure_policy_of((cavum_figure_id)id)->role == CAVUM_ROLE_ESTIMATE) continue;
      step.figure_change = cavum_max(step.figure_change, relative_change(&first->figures[id]));
    }
  }
  ladder->steps[ladder->num_steps++] = step;
}

static void tell_watcher(const cavum_ladder_request *request, const cavum_mesh *mesh, int degree) {
  if (!request->watcher && !request->log) return;
  const cavum_solve_progress progress = {
      .num_elements = mesh->num_elements,
      .degree = degree,
      .num_unknowns = (cavum_index)cavum_space_size(mesh, degree),
      .num_modes = request->cell->num_modes,
      .work_s = cavum_work_of_solution(cavum_space_size(mesh, degree), request->cell->num_modes)};
  if (request->watcher) request->watcher(&progress, request->watcher_data);
  if (!request->log) return;
  char line[128];
  snprintf(line, sizeof line, "%d elements, degree %d, %d unknowns", (int)progress.num_elements,
           degree, (int)progress.num_unknowns);
  request->log(CAVUM_LOG_PROGRESS, "solve", line, request->log_data);
}

// Solves at a degree and takes in its values and those of the `new_degrees` - 1 degrees below.
static cavum_status climb_to(cavum_ladder *ladder, const cavum_ladder_request *request, int degree,
                             int new_degrees, cavum_timings *timings, cavum_error *error) {
  cavum_problem_memory *memory = ladder->memory;
  cavum_solution_request input = {.boundary = &memory->boundary, .num_degrees = new_degrees};
  const cavum_solution *start =
      ladder->solution ? ladder->solution : cavum_ladder_neighbour(memory, memory->last);
  cavum_solution *slot =
      cavum_problem_memory_slot(memory, degree, new_degrees, start, ladder->solution != NULL);
  cavum_status status =
      cavum_ladder_solve_next(ladder, request, slot, degree, &input, timings, error);
  // Few unknowns carry few modes: the histories start where all that are wanted are there.
  if (status != CAVUM_OK || !cavum_ladder_has_all_modes(ladder->solution, request)) return status;
  status = start_history(ladder, error);
  for (int below = ladder->solution->num_degrees - 1; status == CAVUM_OK && below >= 0; below--) {
    update_histories(ladder, request, below);
    record_step(ladder, degree - below, below);
  }
  return status == CAVUM_OK ? cavum_peak_refinement_judge(ladder, request->cell, error) : status;
}

// A finer mesh is the better way beyond a few degrees.
static int give_up_at(int first_degree) {
  return first_degree + 3 > GIVE_UP_AT ? first_degree + 3 : GIVE_UP_AT;
}

static bool is_cheap(const cavum_ladder *ladder, const cavum_ladder_request *request, int degree) {
  int64_t unknowns = cavum_space_size(&ladder->memory->mesh, degree);
  return cavum_work_of_solution(unknowns, request->cell->num_modes) <= CHEAP_S;
}

// What is out of reach gets as far as one cheap solution more takes it.
static int cheap_step(const cavum_ladder *ladder, const cavum_ladder_request *request, int degree) {
  int step = CAVUM_LEVELS_MOST;
  while (step > 0 && !is_cheap(ladder, request, degree + step)) step--;
  return step;
}

// How many degrees to go up at once, 0 to stop: steps of several degrees share one elimination.
static int next_step(const cavum_ladder *ladder, const cavum_ladder_request *request, int degree) {
  int left = request->last_degree - degree, step = ladder->missing;
  if (request->fixed || ladder->num_steps == 0) return left > 0 ? 1 : 0;
  if (ladder->reached) return 0;
  int most = request->can_refine ? give_up_at(request->first_degree) : CAVUM_DEGREE_MOST;
  bool hopeless = degree + ladder->missing > most;
  if (hopeless && request->can_refine) return 0;
  // Where some figure is out of reach the others still get what is asked for.
  if (hopeless && degree >= HOPELESS_FROM && !is_cheap(ladder, request, CAVUM_DEGREE_MOST)) {
    step = degree + ladder->nearest > most ? 0 : ladder->nearest;
    if (step == 0 && ladder->out_of_reach) step = cheap_step(ladder, request, degree);
  }
  step = step < CAVUM_LEVELS_MOST ? step : CAVUM_LEVELS_MOST;
  return step < left ? step : left;
}

// Whether the next solution is within the limit of work. The first one is made in any case: without
// it there is no result.
static bool may_go_on(const cavum_ladder *ladder, const cavum_ladder_request *request, int degree) {
  if (!request->work) return true;
  int64_t unknowns = cavum_space_size(&ladder->memory->mesh, degree);
  double more_s = cavum_work_of_solution(unknowns, request->cell->num_modes);
  bool has_result = ladder->num_steps >= CAVUM_DEGREES_LEAST;
  if (has_result && !cavum_work_allows(request->work, more_s)) return false;
  cavum_memory_case need =
      cavum_memory_case_of(&ladder->memory->mesh, degree, request->cell->num_modes);
  if (has_result && !cavum_work_fits(request->work, &need)) return false;
  request->work->spent_s += more_s;
  return true;
}

cavum_status cavum_ladder_climb(cavum_ladder *ladder, cavum_problem_memory *memory,
                                const cavum_ladder_request *request, cavum_timings *timings,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  *ladder = (cavum_ladder){
      .memory = memory,
      .keeps_mesh = memory->mesh.node_order > 0,
      .has_regions = !request->fixed && !request->single && memory->mesh.node_order == 0};
  CAVUM_TRY(cavum_ladder_find_start(ladder, request, timings, error));
  int degree = request->first_degree, step = request->single ? 1 : CAVUM_LEVELS_MOST;
  step = step < degree ? step : degree;
  while (step > 0 && may_go_on(ladder, request, degree)) {
    tell_watcher(request, &memory->mesh, degree);
    CAVUM_TRY(climb_to(ladder, request, degree, step, timings, error));
    step = next_step(ladder, request, degree);
    degree += step;
  }
done:
  return status;
}
