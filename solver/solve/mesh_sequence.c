// SPDX-License-Identifier: GPL-3.0-or-later
// One mesh after the other, and which of them a cell begins with.
#include "solve/mesh_sequence.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "solve/accuracy.h"
#include "solve/cell_mesh.h"
#include "solve/degree_choice.h"
#include "solve/ladder.h"
#include "solve/mode_density.h"

// Cells on a finer mesh until the one before is tried again: at first, and at most.
enum { COARSER_AFTER = 1, COARSER_SELDOM = 256 };

// An earlier mesh is made again where its shortfall is less than this part of that of the last.
static const double WORTH_RETURNING = 0.8;

static void set_request(cavum_problem *s) {
  int degree = s->options->degree;
  s->request = (cavum_ladder_request){
      .cell = s->cell,
      .half_model = s->half_model,
      .curves = s->options->profiles && !s->memory->densities_alone,
      .fixed = degree > 0,
      .single = s->memory->one_degree && degree > 0,
      .work = &s->work,
      .watcher = s->options->watcher,
      .watcher_data = s->options->watcher_data,
      .log = s->options->log,
      .log_data = s->options->log_data,
      .first_degree =
          degree > 0 ? degree
                     : cavum_degree_choose_first(s->cell, s->memory, s->options->refinement > 1.0),
      .last_degree = degree > 0 ? degree : CAVUM_DEGREE_MOST};
}

// The mesh to begin with: the first in turn, or a finer one where the cell before, a neighbour,
// needed it; that is then in the memory. Now and then the one before that is tried again, more and
// more seldom.
static cavum_status choose_mesh(int *which, bool *is_made, cavum_problem *s,
                                const cavum_cell_mesh_request *request, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_problem_memory *memory = s->memory;
  bool is_finer = memory->refinement > 0 && cavum_degree_has_experience(s->cell, memory);
  *which = 0;
  *is_made = false;
  if (is_finer && ++memory->cells_on_finer >= memory->coarser_after) {
    memory->cells_on_finer = 0;
    memory->coarser_after = (int)cavum_min(2.0 * memory->coarser_after, COARSER_SELDOM);
    *which = memory->refinement - 1;
    return CAVUM_OK;
  }
  if (is_finer) {
    CAVUM_TRY(cavum_cell_mesh_follow(is_made, memory, request, &s->result->timings, error));
  }
  if (*is_made) {
    *which = memory->refinement;
  } else {
    memory->cells_on_finer = 0;
    memory->coarser_after = COARSER_AFTER;
  }
done:
  return status;
}

// Whether fewer modes make a mesh of fewer unknowns.
static bool mesh_follows_modes(const cavum_problem *s) {
  return s->options->refinement == 0.0 && s->cell->kind != CAVUM_CONTOUR_MESH_FILE &&
         cavum_mode_phase_counts(s->cell) && s->cell->near_hz <= 0.0;
}

// The most modes within the limit of work where all that are asked for take so much; 0: none.
static int most_modes(const cavum_problem *s, double least_s) {
  int64_t unknowns = cavum_space_size(&s->memory->mesh, s->request.first_degree);
  double all = cavum_work_of_solution(unknowns, s->cell->num_modes);
  int most = s->cell->num_modes;
  for (; most > 0; most--) {
    double part = mesh_follows_modes(s) ? (double)most / s->cell->num_modes : 1.0;
    double work = cavum_work_of_solution(unknowns, most) * part * sqrt(part);
    if (least_s * work / all <= s->work.limit_s) break;
  }
  return most;
}

// What cannot be done within the limit is refused before it is begun.
static cavum_status check_work(const cavum_problem *s, double least_s, cavum_error *error) {
  if (least_s <= s->work.limit_s) return CAVUM_OK;
  char fewer[64] = "";
  int most = s->memory->mesh.num_elements > 0 ? most_modes(s, least_s) : 0;
  if (most > 0) snprintf(fewer, sizeof fewer, " (some %d at most)", most);
  return cavum_fail(
      error, CAVUM_ERR_RANGE,
      "%d mode%s of this cell need%s about %.2g s of work or more; the limit is %.4g s: "
      "ask for fewer modes%s, a coarser mesh or a higher limit of work",
      s->cell->num_modes, s->cell->num_modes == 1 ? "" : "s", s->cell->num_modes == 1 ? "s" : "",
      least_s, s->work.limit_s, fewer);
}

// Likewise for memory, with the most modes that fit where fewer would.
static cavum_status check_memory(const cavum_problem *s, cavum_error *error) {
  cavum_memory_case need =
      cavum_memory_case_of(&s->memory->mesh, s->request.first_degree, s->cell->num_modes);
  double bytes = cavum_memory_estimate_bytes(&need), limit = s->work.memory_limit_bytes;
  if (bytes <= limit) return CAVUM_OK;
  int most = cavum_memory_most_modes(&need, mesh_follows_modes(s), limit);
  char fewer[64] = "";
  if (most > 0) snprintf(fewer, sizeof fewer, "at most %d mode%s, ", most, most == 1 ? "" : "s");
  return cavum_fail(error, CAVUM_ERR_RANGE,
                    "memory of some %.3g GB for %d mode%s with %.0f unknowns, %.3g GB are allowed: "
                    "ask for %sa coarser mesh or a higher limit of memory",
                    1e-9 * bytes, s->cell->num_modes, s->cell->num_modes == 1 ? "" : "s",
                    need.num_unknowns, 1e-9 * limit, fewer);
}

static double work_on_mesh(const cavum_problem *s, double size_ratio) {
  int64_t unknowns = cavum_space_size(&s->memory->mesh, s->request.first_degree);
  return cavum_work_of_solution((int64_t)((double)unknowns * size_ratio * size_ratio),
                                s->cell->num_modes);
}

static bool next_mesh_fits(cavum_problem *s, int which) {
  double ratio = cavum_cell_mesh_ratio(which);
  cavum_memory_case need =
      cavum_memory_case_of(&s->memory->mesh, s->request.first_degree, s->cell->num_modes);
  need.num_unknowns *= ratio * ratio;
  return cavum_work_fits(&s->work, &need);
}

// One mesh and its ladder.
static cavum_status climb_mesh(cavum_problem *s, const cavum_cell_mesh_request *request, int which,
                               bool is_made, bool can_refine, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_ladder_clear(&s->ladder);
  if (!is_made) {
    CAVUM_TRY(
        cavum_cell_mesh_make(s->memory, &s->notes, request, which, &s->result->timings, error));
  }
  set_request(s);
  s->request.can_refine = can_refine;
  if (!s->result->num_steps) {
    CAVUM_TRY(check_memory(s, error));
    CAVUM_TRY(check_work(s, work_on_mesh(s, 1.0), error));
  }
  CAVUM_TRY(cavum_ladder_climb(&s->ladder, s->memory, &s->request, &s->result->timings, error));
  CAVUM_TRY(cavum_problem_keep_steps(s, error));
done:
  return status;
}

// How far the figures are from what is asked for: factors that are missing, as a sum of logarithms.
static double shortfall(const cavum_problem *s) {
  double sum = 0.0;
  if (s->ladder.num_modes == 0) return HUGE_VAL;
  for (int m = 0; m < s->ladder.num_modes; m++) {
    const cavum_mode_values *values = &s->ladder.solution->modes[m].values[0];
    for (int id = 0; id < CAVUM_NUM_FIGURES; id++) {
      double over = cavum_accuracy_over_wanted(values->figures[id].uncertainty, values,
                                               (cavum_figure_id)id, s->cell);
      sum += log(cavum_max(1.0, over));
    }
  }
  return sum;
}

// Where no mesh is fine enough the last one need not be the best: asking for more must not cost
// accuracy.
static cavum_status return_to(cavum_problem *s, const cavum_cell_mesh_request *request, int best,
                              double least, cavum_error *error) {
  if (s->ladder.reached || s->work.ended) return CAVUM_OK;
  if (least >= WORTH_RETURNING * shortfall(s)) return CAVUM_OK;
  if (!cavum_work_allows(&s->work, work_on_mesh(s, 1.0))) return CAVUM_OK;
  return climb_mesh(s, request, best, false, true, error);
}

cavum_status cavum_mesh_sequence_climb(cavum_problem *s, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_cell_mesh_request request = {
      .cell = s->cell, .half_model = s->half_model, .refinement = s->options->refinement};
  bool chosen = s->options->refinement > 0.0 || s->options->degree > 0 ||
                s->cell->kind == CAVUM_CONTOUR_MESH_FILE;
  int num_meshes = chosen ? 1 : CAVUM_CELL_MESHES, first = 0;
  int best = 0;
  double least = HUGE_VAL;
  bool is_made = false;
  CAVUM_TRY(check_work(s, cavum_work_of_modes(s->cell->num_modes), error));
  if (!chosen) CAVUM_TRY(choose_mesh(&first, &is_made, s, &request, error));
  for (int i = first; i < num_meshes; i++) {
    CAVUM_TRY(climb_mesh(s, &request, i, is_made, i + 1 < num_meshes, error));
    is_made = false;
    if (s->ladder.reached || s->work.ended || i + 1 == num_meshes) break;
    double now = shortfall(s);
    if (now < least) least = now, best = i;
    // The next mesh takes the place of this one and its result.
    if (!cavum_work_allows(&s->work, work_on_mesh(s, cavum_cell_mesh_ratio(i)))) break;
    if (!next_mesh_fits(s, i)) break;
  }
  CAVUM_TRY(return_to(s, &request, best, least, error));
  if (s->work.ended && s->ladder.num_steps < CAVUM_DEGREES_LEAST) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_NOT_CONVERGED,
                         "the limit of work of %.4g s was reached before there was a result",
                         s->work.limit_s));
  }
  if (s->ladder.num_modes == 0) {
    CAVUM_TRY(cavum_fail(error, CAVUM_ERR_MESH, "the mesh carries %d of the %d mode%s asked for",
                         s->ladder.solution ? s->ladder.solution->num_modes : 0, s->cell->num_modes,
                         s->cell->num_modes == 1 ? "" : "s"));
  }
done:
  return status;
}
