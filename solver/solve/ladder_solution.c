// SPDX-License-Identifier: GPL-3.0-or-later
// The next solution of a ladder: which modes are asked of which symmetry class, and the guess.
#include "solve/ladder_solution.h"

#include "base/base.h"
#include "solve/completeness.h"
#include "solve/mode_density.h"
#include "solve/solution_compute.h"

// Degree at which a single mode is looked for, and several, which start from a lower one.
enum { ROUGH_DEGREE = 2, ROUGH_DEGREE_SEVERAL = 5, SEED_DEGREE_SEVERAL = 2, SEED_DEGREE_LARGE = 1 };
// Where the highest mode turns by less than this over an element, a degree less is enough of a
// start: found on cells and chains of 2 to 10 modes, of which those from 2 rad on take more steps
// after it.
enum { ROUGH_DEGREE_OF_LONG_WAVES = 4 };
static const double LONG_WAVES_RAD = 1.5;
// Solutions of more unknowns than this at a low degree have elements that are small enough for the
// seed to be the start; at a high one those over which the highest mode turns by less than this.
enum { SEED_IS_ENOUGH_FROM = 20000 };
static const double SEED_PHASE_MOST_RAD = 0.3;

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

const cavum_solution *cavum_ladder_neighbour(const cavum_problem_memory *memory,
                                             const cavum_solution *solution) {
  return solution && solution->topology == memory->topology && solution->num_modes > 0 ? solution
                                                                                       : NULL;
}

// Several modes on a mesh of many elements, whose first degree is low.
static bool has_low_degree(const cavum_ladder *ladder, const cavum_ladder_request *request) {
  int degree = request->first_degree;
  return request->cell->near_hz <= 0.0 && degree > SEED_DEGREE_SEVERAL &&
         degree <= ROUGH_DEGREE_SEVERAL &&
         cavum_space_size(&ladder->memory->mesh, degree) > SEED_IS_ENOUGH_FROM;
}

// Or whose elements are small all the same, by a refinement or a mesh file: those of long chains
// are as large as those of one cell.
static bool starts_from_seed(const cavum_ladder *ladder, const cavum_ladder_request *request) {
  const cavum_problem_memory *memory = ladder->memory;
  if (request->cell->near_hz > 0.0) return false;
  if (request->first_degree <= ROUGH_DEGREE_SEVERAL) return has_low_degree(ladder, request);
  return cavum_space_size(&memory->mesh, ROUGH_DEGREE_SEVERAL) > SEED_IS_ENOUGH_FROM &&
         cavum_mode_phase_rad(request->cell, &memory->mesh, memory->half_model) <
             SEED_PHASE_MOST_RAD;
}

cavum_status cavum_ladder_solve_next(cavum_ladder *ladder, const cavum_ladder_request *request,
                                     cavum_solution *solution, int degree,
                                     cavum_solution_request *input, cavum_timings *timings,
                                     cavum_error *error) {
  cavum_problem_memory *memory = ladder->memory;
  cavum_solution *before = ladder->solution;
  if (!solution) return cavum_fail_memory(error);
  input->cell = request->cell;
  input->count = request->cell->num_modes;
  input->curves = request->curves;
  input->topology = memory->topology;
  input->large_from = memory->large_from;
  input->skeletons = &memory->skeletons;
  input->guess = before ? before
                 : request->start
                     ? request->start
                     : cavum_ladder_neighbour(memory, input->rough ? solution : memory->last);
  // Figures of a large mesh file are subtracted from those of its bent mesh.
  input->precise =
      request->start || ((!input->rough || input->accurate) && has_low_degree(ladder, request));
  input->guess_is_neighbour = !before;
  if (!before) ladder->is_warm = input->guess && !input->rough && !request->start;
  input->close_shift = ladder->is_warm;
  double near = 2.0 * CAVUM_PI * request->cell->near_hz / CAVUM_C_M_PER_S;
  input->near_k2_per_m2 = near * near;
  // The classes that a neighbour's modes belong to are a guess too: completeness will tell.
  set_requests(
      input, request,
      input->guess && cavum_ladder_has_all_modes(input->guess, request) ? input->guess : NULL,
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
                                 int slot, int degree, bool accurate, cavum_timings *timings,
                                 cavum_error *error) {
  cavum_solution_request input = {
      .boundary = &ladder->memory->boundary, .num_degrees = 1, .rough = true, .accurate = accurate};
  cavum_solution **solution = &ladder->memory->slots[slot];
  if (!*solution) *solution = cavum_alloc(1, sizeof **solution);
  return cavum_ladder_solve_next(ladder, request, *solution, degree, &input, timings, error);
}

// Whether the first solution is a large discretisation.
static bool is_large(const cavum_ladder *ladder, const cavum_ladder_request *request) {
  const cavum_problem_memory *memory = ladder->memory;
  cavum_index large_from = memory->large_from > 0 ? memory->large_from : CAVUM_LARGE_FROM;
  return cavum_space_size(&memory->mesh, request->first_degree) > large_from;
}

// The start on a mesh of many elements: at degree 1, improved at degree 2.
static cavum_status find_seed(cavum_ladder *ladder, const cavum_ladder_request *request,
                              cavum_timings *timings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool accurate = is_large(ladder, request) && has_low_degree(ladder, request);
  CAVUM_TRY(
      find_roughly(ladder, request, CAVUM_SEED_SLOT, SEED_DEGREE_LARGE, false, timings, error));
  CAVUM_TRY(find_roughly(ladder, request, CAVUM_ROUGH_SLOT, SEED_DEGREE_SEVERAL, accurate, timings,
                         error));
  ladder->rough = ladder->memory->slots[CAVUM_ROUGH_SLOT];
done:
  return status;
}

// What was made for a start is not needed beside the factors of a large solution, once its modes
// are counted.
static cavum_status finish_start(cavum_ladder *ladder, const cavum_ladder_request *request,
                                 bool is_seed, cavum_error *error) {
  cavum_solution *seed = ladder->memory->slots[CAVUM_SEED_SLOT];
  bool large = is_large(ladder, request);
  if (!large && !is_seed) return CAVUM_OK;
  cavum_status status = cavum_completeness_count_start(ladder, request, error);
  if (status != CAVUM_OK || !large) return status;
  if (seed) cavum_solution_drop_matrices(seed);
  cavum_solution_drop_matrices(ladder->rough);
  return CAVUM_OK;
}

static int choose_rough_degree(const cavum_ladder *ladder, const cavum_ladder_request *request) {
  const cavum_problem_memory *memory = ladder->memory;
  if (request->cell->num_modes == 1) return ROUGH_DEGREE;
  double phase_rad = cavum_mode_phase_rad(request->cell, &memory->mesh, memory->half_model);
  return phase_rad < LONG_WAVES_RAD ? ROUGH_DEGREE_OF_LONG_WAVES : ROUGH_DEGREE_SEVERAL;
}

cavum_status cavum_ladder_find_start(cavum_ladder *ladder, const cavum_ladder_request *request,
                                     cavum_timings *timings, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_problem_memory *memory = ladder->memory;
  const cavum_solution *last = memory->slots[CAVUM_ROUGH_SLOT];
  const cavum_cell *cell = request->cell;
  if (request->start || cell->num_modes >= CAVUM_SLICES_FROM) return CAVUM_OK;
  bool single = cell->num_modes == 1;
  int degree = choose_rough_degree(ladder, request);
  bool pays =
      cell->near_hz <= 0.0 && request->first_degree > (single ? degree : ROUGH_DEGREE_SEVERAL);
  if (!single && starts_from_seed(ladder, request)) {
    CAVUM_TRY(find_seed(ladder, request, timings, error));
    return finish_start(ladder, request, true, error);
  }
  if (!pays || (single && cavum_ladder_neighbour(memory, memory->last))) return CAVUM_OK;
  if (!single &&
      !(cavum_ladder_neighbour(memory, last) && cavum_ladder_has_all_modes(last, request))) {
    CAVUM_TRY(
        find_roughly(ladder, request, CAVUM_SEED_SLOT, SEED_DEGREE_SEVERAL, false, timings, error));
  }
  CAVUM_TRY(find_roughly(ladder, request, CAVUM_ROUGH_SLOT, degree, false, timings, error));
  if (single) return CAVUM_OK;
  ladder->rough = memory->slots[CAVUM_ROUGH_SLOT];
  CAVUM_TRY(finish_start(ladder, request, false, error));
done:
  return status;
}
