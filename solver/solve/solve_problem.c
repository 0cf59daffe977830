// SPDX-License-Identifier: GPL-3.0-or-later
// One problem from its mesh to its result.
#include "solve/solve_problem.h"

#include <stdio.h>

#include "base/base.h"
#include "base/units.h"
#include "element/mesh.h"
#include "figures/sharp_corner.h"
#include "solve/completeness.h"
#include "solve/degree_choice.h"
#include "solve/derivatives.h"
#include "solve/geometry_uncertainty.h"
#include "solve/memory_need.h"
#include "solve/mesh_sequence.h"
#include "solve/problem.h"
#include "solve/result_fill.h"

static cavum_status warn_of_work(cavum_problem *s, cavum_error *error) {
  char text[160];
  if (s->work.memory_ended) {
    snprintf(text, sizeof text,
             "the limit of memory of %.3g GB was reached before the accuracy: this is the best "
             "result within it",
             1e-9 * s->work.memory_limit_bytes);
    return cavum_problem_warn(s, text, error);
  }
  snprintf(text, sizeof text,
           "the limit of work of %.4g s was reached before the accuracy: this is the best result "
           "within it",
           s->work.limit_s);
  return cavum_problem_warn(s, text, error);
}

// A conductor that the last mesh does not feel: the modes are those of another cell, and none of it
// can be counted.
static cavum_status warn_of_unfelt(cavum_problem *s, cavum_error *error) {
  char text[256];
  cavum_point at = s->memory->unfelt.place;
  s->result->complete_below_hz = s->result->complete_above_hz = 0.0;
  snprintf(text, sizeof text,
           "the conductor of radius %.3g mm at z = %.4g mm is too thin for the elements beside it, "
           "which do not resolve it: the modes may be those of the cell without it",
           cavum_in_mm(at.r_m), cavum_in_mm(at.z_m));
  return cavum_problem_warn(s, text, error);
}

// Elements of a mesh file stay as they are, and no degree makes up for large ones at a corner.
static cavum_status warn_of_corner(cavum_problem *s, cavum_error *error) {
  char text[256];
  cavum_point at;
  bool found;
  cavum_view view = cavum_solution_view(s->ladder.solution, 0, 0, &s->memory->boundary);
  cavum_status status = cavum_sharp_corner_weakest_place(&at, &found, &view, error);
  if (status != CAVUM_OK || !found) return status;
  snprintf(
      text, sizeof text,
      "the field is not smooth at the corner at z = %.4g, r = %.4g mm, and the elements of the "
      "mesh file limit the accuracy there: make them smaller towards it, layer by layer",
      cavum_in_mm(at.z_m), cavum_in_mm(at.r_m));
  return cavum_problem_warn(s, text, error);
}

static cavum_status run(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  bool by_corner = false;
  CAVUM_TRY(cavum_mesh_sequence_climb(s, error));
  cavum_degree_remember(s->memory, &s->ladder, s->cell, s->options->degree != 0);
  by_corner = s->memory->mesh.node_order > 0 && s->options->degree == 0 && !s->ladder.reached;
  CAVUM_TRY(cavum_geometry_uncertainty_add(s, error));
  CAVUM_TRY(cavum_result_fill(s, error));
  if (by_corner && !s->work.ended) CAVUM_TRY(warn_of_corner(s, error));
  if (s->options->derivatives) CAVUM_TRY(cavum_derivatives_add(s, error));
  CAVUM_TRY(cavum_result_fill_energies(s, error));
  s->memory->work_ended = s->work.ended && !s->ladder.reached;
  s->memory->memory_ended = s->work.memory_ended;
  if (s->memory->work_ended) CAVUM_TRY(warn_of_work(s, error));
  CAVUM_TRY(cavum_completeness_check(&s->result->complete_below_hz, &s->result->complete_above_hz,
                                     &s->memory->num_close, &s->ladder, &s->request, error));
  s->memory->unfelt = (cavum_thin_conductor){0};
  if (s->ladder.thin.part > s->cell->accuracy_frequency) {
    s->memory->unfelt = s->ladder.thin;
    CAVUM_TRY(warn_of_unfelt(s, error));
  }
done:
  return status;
}

// Solves with what the memory holds; after an error in the solution the memory is empty.
static cavum_status solve_with(cavum_result **result, cavum_problem_memory *memory,
                               const cavum_cell *cell, const cavum_solve_options *options,
                               bool half_model, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  double start = cavum_seconds();
  cavum_problem s = {.cell = cell, .options = options, .half_model = half_model, .memory = memory};
  s.work.limit_s = options->work_limit_s > 0.0 ? options->work_limit_s : CAVUM_WORK_LIMIT_S;
  s.work.memory_limit_bytes =
      options->memory_limit_bytes > 0.0 ? options->memory_limit_bytes : cavum_memory_limit_bytes();
  s.result = cavum_alloc(1, sizeof *s.result);
  if (!s.result) CAVUM_TRY(cavum_fail_memory(error));
  CAVUM_TRY(run(&s, error));
  CAVUM_TRY(cavum_mesh_copy(&s.result->mesh, &memory->mesh, error));
  s.result->timings.total_s = cavum_seconds() - start;
  *result = s.result;
  s.result = NULL;
done:
  // A cell that has no contour has touched nothing.
  if (status != CAVUM_OK && status != CAVUM_ERR_GEOMETRY) cavum_problem_memory_clear(memory);
  cavum_ladder_clear(&s.ladder);
  cavum_result_destroy(&s.result);
  return status;
}

cavum_status cavum_problem_solve(cavum_result **result, cavum_problem_memory *memory,
                                 const cavum_cell *cell, const cavum_solve_options *options,
                                 bool half_model, cavum_error *error) {
  bool fresh = memory->topology == 0;
  cavum_status status = solve_with(result, memory, cell, options, half_model, error);
  if (status == CAVUM_OK || status == CAVUM_ERR_GEOMETRY || status == CAVUM_ERR_STOPPED || fresh) {
    return status;
  }
  return solve_with(result, memory, cell, options, half_model, error);
}
