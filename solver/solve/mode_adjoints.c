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
  const cavum_mode_adjoints_request *request;
  cavum_index num_unknowns;
  bool exists[CAVUM_ADJOINT_ROWS];
  double **rows;                                           // where the vector of each is
  int count;                                               // of those that exist, in a row:
  const cavum_functional *numbers[CAVUM_ADJOINT_ROWS];     // what they are of
  double *z[CAVUM_ADJOINT_ROWS], *mz[CAVUM_ADJOINT_ROWS];  // and the vectors with their products
} work;

void cavum_mode_adjoints_clear(cavum_mode_adjoints *adjoints) {
  if (!adjoints) return;
  free(adjoints->own);
  *adjoints = (cavum_mode_adjoints){0};
}

// Vectors are written into the memory of the solver where it has one, and at the highest degree so
// are their products with M.
static cavum_status place_vectors(work *w, double *room, cavum_error *error) {
  cavum_mode_adjoints *known = w->request->known;
  cavum_adjoint_memory *memory = w->request->memory;
  const cavum_adjoint_mode *mode = w->request->mode;
  const cavum_solution *solution = mode->solution;
  cavum_index n = w->num_unknowns;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) w->rows[j] = room + j * (int64_t)n;
  if (known->mode) return CAVUM_OK;
  if (memory) {
    const cavum_adjoint_key key = {solution->topology, solution->reference.degree, mode->mode, n};
    cavum_status status = cavum_adjoint_memory_begin(memory, &key, error);
    if (status != CAVUM_OK) return status;
    for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
      w->rows[j] = cavum_adjoint_memory_row(memory, &memory->next, j, false);
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
    w->z[w->count] = w->rows[j];
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

// Starts from the vectors of the cells solved before, where those are near enough. Where they are
// taken unchanged, lower degrees start from their products with M, which are known already.
static cavum_status solve_near(work *w, cavum_bordered_start *start, bool *solved,
                               cavum_error *error) {
  cavum_adjoint_memory *memory = w->request->memory;
  const cavum_adjoint_mode *mode = w->request->mode;
  const cavum_adjoint_cell *from = cavum_adjoint_memory_start(memory, w->exists, mode->vector);
  double *z[CAVUM_ADJOINT_ROWS], *mz[CAVUM_ADJOINT_ROWS];
  int count = 0;
  if (!from) return CAVUM_OK;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    if (!w->exists[j]) continue;
    z[count] = cavum_adjoint_memory_row(memory, from, j, false);
    mz[count++] = cavum_adjoint_memory_row(memory, from, j, true);
  }
  const cavum_bordered_near near = {z, mz, memory->contraction_m2, true, true};
  cavum_status status = cavum_adjoint_solve_near(w->z, start, solved, mode, w->request->accuracy,
                                                 &near, w->numbers, w->count, error);
  if (status != CAVUM_OK || !*solved || !start->kept) return status;
  for (int j = 0; j < CAVUM_ADJOINT_ROWS; j++) {
    w->request->known->products[j] = cavum_adjoint_memory_row(memory, from, j, true);
  }
  cavum_adjoint_memory_keep(memory, from, w->exists, mode->vector);
  return CAVUM_OK;
}

static cavum_status solve_fully(work *w, bool *solved, cavum_error *error) {
  cavum_mode_adjoints *known = w->request->known;
  const cavum_adjoint_mode *mode = w->request->mode;
  bool keep = !known->mode, was_near = false;
  cavum_adjoint_memory *memory = keep ? w->request->memory : NULL;
  cavum_bordered_start start = {.mz = keep ? w->mz : NULL};
  cavum_status status = memory ? solve_near(w, &start, &was_near, error) : CAVUM_OK;
  *solved = was_near;
  if (status == CAVUM_OK && !was_near) {
    status = cavum_adjoint_solve(w->z, &start, solved, mode, w->request->accuracy, w->numbers,
                                 w->count, error);
  }
  if (status != CAVUM_OK || !*solved || !keep) return status;
  if (memory && !start.kept) {
    cavum_adjoint_memory_end(memory, w->exists, mode->vector, start.contraction_m2, was_near);
  }
  memcpy(known->exists, w->exists, sizeof known->exists);
  known->mode = mode->vector;
  known->contraction = start.contraction;
  return CAVUM_OK;
}

cavum_status cavum_mode_adjoints_solve(double *z[CAVUM_ADJOINT_ROWS], double *room, bool *solved,
                                       const cavum_mode_adjoints_request *request,
                                       cavum_error *error) {
  const cavum_mode_adjoints *known = request->known;
  const cavum_adjoint_mode *mode = request->mode;
  work w = {.request = request,
            .num_unknowns = mode->solution->discretisation.space.num_unknowns,
            .rows = z};
  *solved = true;
  cavum_status status = place_vectors(&w, room, error);
  if (status != CAVUM_OK) return status;
  list_rows(&w);
  if (w.count == 0) return CAVUM_OK;
  if (!have_start(&w)) return solve_fully(&w, solved, error);
  const cavum_bordered_start start = {
      .mz = w.mz,
      .opposite = cblas_ddot(w.num_unknowns, known->mode, 1, mode->vector, 1) < 0.0,
      .contraction = known->contraction};
  status = cavum_adjoint_correct(w.z, &start, mode, w.numbers, w.count, error);
  return status == CAVUM_OK ? cavum_stop_check(error) : status;
}
