// SPDX-License-Identifier: GPL-3.0-or-later
// What the iteration for the adjoint vectors of a mode starts from: the vectors of the cells solved
// before, those of a higher degree of this cell, or zero.
#include "solve/mode_adjoints.h"

#include <string.h>

#include "base/base.h"
#include "base/stop.h"
#include "linalg/blas_calls.h"

// At lower degrees one solve is enough where it leaves less than this part of the error.
static const double CONTRACTION_MOST = 0.05;

typedef struct work {
  cavum_mode_adjoints_request *request;
  cavum_index num_unknowns;
  bool exists[CAVUM_ADJOINT_ROWS];
  int count;                                               // of those that exist, in a row:
  const cavum_functional *numbers[CAVUM_ADJOINT_ROWS];     // what they are of
  double *z[CAVUM_ADJOINT_ROWS], *mz[CAVUM_ADJOINT_ROWS];  // and the vectors with their products
  // What they start from.
  const double *b[CAVUM_ADJOINT_ROWS];
  cavum_bordered problem;
  cavum_bordered_start start;
  cavum_bordered_near near;
  const cavum_adjoint_cell *from;  // NULL: no cell before
  double *near_z[CAVUM_ADJOINT_ROWS], *near_mz[CAVUM_ADJOINT_ROWS];
} work;

void cavum_mode_adjoints_clear(cavum_mode_adjoints *adjoints) {
  if (!adjoints) return;
  free(adjoints->own);
  *adjoints = (cavum_mode_adjoints){0};
}

// Vectors are written into the memory of the solver where it has one, and at the highest degree so
// are their products with M.
static cavum_status place_vectors(work *w, cavum_error *error) {
  double **rows = w->request->z, *room = w->request->room;
  cavum_mode_adjoints *known = w->request->known;
  cavum_adjoint_memory *memory = w->request->memory;
  const cavum_adjoint_mode *mode = w->request->mode;
  const cavum_solution *solution = mode->solution;
  cavum_index n = w->num_unknowns;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) rows[j] = room + j * (int64_t)n;
  if (known->mode) return CAVUM_OK;
  if (memory) {
    const cavum_adjoint_key key = {solution->topology, solution->reference.degree, mode->mode, n};
    cavum_status status = cavum_adjoint_memory_begin(memory, &key, error);
    if (status != CAVUM_OK) return status;
    for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
      rows[j] = cavum_adjoint_memory_row(memory, &memory->next, j, false);
      known->products[j] = cavum_adjoint_memory_row(memory, &memory->next, j, true);
    }
    return CAVUM_OK;
  }
  if (!known->own) {
    known->own = cavum_alloc_aligned(CAVUM_ADJOINT_ROWS * (int64_t)n, sizeof *known->own);
  }
  if (!known->own) return cavum_fail_memory(error);
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) known->products[j] = known->own + j * (int64_t)n;
  return CAVUM_OK;
}

static void list_rows(work *w) {
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    w->exists[j] = w->request->numbers[j] != NULL;
    if (!w->exists[j]) continue;
    w->numbers[w->count] = w->request->numbers[j];
    w->b[w->count] = w->request->numbers[j]->by_vector;
    w->z[w->count] = w->request->z[j];
    w->mz[w->count++] = w->request->known->products[j];
  }
}

// Whether the vectors of a higher degree are a start for all vectors.
static bool have_start(const work *w) {
  const cavum_mode_adjoints *known = w->request->known;
  if (!known->mode || known->contraction > CONTRACTION_MOST) return false;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    if (w->exists[j] && !known->exists[j]) return false;
  }
  return true;
}

// From the vectors of the degree above.
static void begin_correction(work *w) {
  const cavum_mode_adjoints *known = w->request->known;
  const double *vector = w->request->mode->vector;
  w->problem = cavum_adjoint_problem(w->request->mode, 0.0);
  w->start = (cavum_bordered_start){
      .mz = w->mz,
      .opposite = cblas_ddot(w->num_unknowns, known->mode, 1, vector, 1) < 0.0,
      .contraction = known->contraction};
}

// The memory of the highest degree, or none.
static cavum_adjoint_memory *memory_of(const work *w) {
  return w->request->known->mode ? NULL : w->request->memory;
}

// From the vectors of the cells solved before. False where there are none.
static bool begin_near(work *w) {
  cavum_adjoint_memory *memory = memory_of(w);
  const cavum_adjoint_mode *mode = w->request->mode;
  int count = 0;
  w->from = memory ? cavum_adjoint_memory_start(memory, w->exists, mode->vector) : NULL;
  if (!w->from) return false;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    if (!w->exists[j]) continue;
    w->near_z[count] = cavum_adjoint_memory_row(memory, w->from, j, false);
    w->near_mz[count++] = cavum_adjoint_memory_row(memory, w->from, j, true);
  }
  w->problem = cavum_adjoint_problem(mode, w->request->accuracy);
  w->near = (cavum_bordered_near){w->near_z, w->near_mz, memory->contraction_m2, true, true};
  return true;
}

static cavum_status begin(work *w, cavum_bordered_task *task, cavum_error *error) {
  cavum_mode_adjoints_request *request = w->request;
  cavum_status status = CAVUM_OK;
  *task = (cavum_bordered_task){0};
  request->solved = true;
  w->num_unknowns = request->mode->solution->discretisation.space.num_unknowns;
  if (request->mirror) {
    status = cavum_adjoint_turn_to_opposite(request->mode, request->mirror, error);
  }
  if (status == CAVUM_OK) status = place_vectors(w, error);
  if (status != CAVUM_OK) return status;
  list_rows(w);
  if (w->count == 0) return CAVUM_OK;
  bool is_first = !request->known->mode && !request->mirror;
  if (is_first) status = cavum_adjoint_bring_close(request->mode, error);
  if (status != CAVUM_OK) return status;
  bool is_correction = have_start(w);
  w->start.mz = request->known->mode ? NULL : w->mz;
  request->solved = is_correction;
  if (is_correction) begin_correction(w);
  if (!is_correction && !begin_near(w)) return CAVUM_OK;
  const cavum_bordered_near *near = is_correction ? NULL : &w->near;
  *task = (cavum_bordered_task){&w->problem, w->z, w->b, w->count, &w->start, near, false};
  return CAVUM_OK;
}

// Where those of the cells before are taken unchanged, lower degrees start from their products with
// M, which are known already.
static void keep_vectors(work *w) {
  cavum_adjoint_memory *memory = memory_of(w);
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    w->request->known->products[j] = cavum_adjoint_memory_row(memory, w->from, j, true);
  }
  cavum_adjoint_memory_keep(memory, w->from, w->exists, w->request->mode->vector);
}

// The factors of the other class are those of the first, which may have been made anew.
static cavum_status solve_fully(work *w, cavum_error *error) {
  cavum_mode_adjoints_request *request = w->request;
  cavum_status status = CAVUM_OK;
  if (request->mirror) {
    status = cavum_adjoint_turn_to_opposite(request->mode, request->mirror, error);
  }
  if (status != CAVUM_OK) return status;
  return cavum_adjoint_solve(w->z, &w->start, &request->solved, request->mode, request->accuracy,
                             w->numbers, w->count, error);
}

static cavum_status finish(work *w, const cavum_bordered_task *task, cavum_error *error) {
  cavum_mode_adjoints_request *request = w->request;
  cavum_mode_adjoints *known = request->known;
  bool keep = !known->mode, was_near = task->near && task->solved;
  cavum_status status = CAVUM_OK;
  if (w->count == 0 || (task->count > 0 && !task->near)) return cavum_stop_check(error);
  request->solved = was_near;
  if (was_near && w->start.kept) keep_vectors(w);
  if (!was_near) status = solve_fully(w, error);
  if (status != CAVUM_OK || !request->solved || !keep) return status;
  if (memory_of(w) && !w->start.kept) {
    cavum_adjoint_memory_end(memory_of(w), w->exists, request->mode->vector,
                             w->start.contraction_m2, was_near);
  }
  memcpy(known->exists, w->exists, sizeof known->exists);
  known->mode = request->mode->vector;
  known->contraction = w->start.contraction;
  return CAVUM_OK;
}

cavum_status cavum_mode_adjoints_solve(cavum_mode_adjoints_request *requests, int count,
                                       cavum_error *error) {
  work w[CAVUM_ADJOINT_REQUESTS];
  cavum_bordered_task tasks[CAVUM_ADJOINT_REQUESTS];
  cavum_status status = CAVUM_OK;
  CAVUM_ASSERT(count <= CAVUM_ADJOINT_REQUESTS);
  for (int i = 0; i < count; i++) {
    w[i] = (work){.request = &requests[i]};
    CAVUM_TRY(begin(&w[i], &tasks[i], error));
  }
  CAVUM_TRY(cavum_bordered_solve_tasks(tasks, count, error));
  for (int i = 0; i < count; i++) CAVUM_TRY(finish(&w[i], &tasks[i], error));
done:
  return status;
}
