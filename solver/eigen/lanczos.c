// SPDX-License-Identifier: GPL-3.0-or-later
// Shift-invert Lanczos by ARPACK (dsaupd mode 3, dseupd). ARPACK keeps the state of an iteration in
// variables of its own: other threads wait from the first call of one to its last.
#include "eigen/lanczos.h"

#include <string.h>

#include "base/alone.h"
#include "base/base.h"
#include "base/stop.h"
#include "eigen/arpack_calls.h"

enum { MOST_RESTARTS = 300 };

typedef struct workspace {
  double *residual, *basis, *work, *small;
  a_int *select;
  a_int size, num_basis, small_size;
} workspace;

static void workspace_clear(workspace *w) {
  free(w->residual);
  free(w->basis);
  free(w->work);
  free(w->small);
  free(w->select);
}

static cavum_status workspace_create(workspace *w, const cavum_lanczos_problem *problem, int count,
                                     cavum_error *error) {
  int64_t size = problem->size;
  int n;
  if (!cavum_to_int(&n, size)) return cavum_fail_memory(error);
  // Wide enough that most runs need no restart beyond one or two; at most the whole space.
  int basis = 2 * count + 6;
  if (basis > problem->dimension) basis = (int)problem->dimension;
  *w = (workspace){.size = n, .num_basis = basis, .small_size = basis * (basis + 8)};
  w->residual = cavum_alloc(size, sizeof(double));
  w->basis = cavum_alloc(size * basis, sizeof(double));
  w->work = cavum_alloc(3 * size, sizeof(double));
  w->small = cavum_alloc(w->small_size, sizeof(double));
  w->select = cavum_alloc(basis, sizeof(a_int));
  if (!w->residual || !w->basis || !w->work || !w->small || !w->select) {
    return cavum_fail_memory(error);
  }
  return CAVUM_OK;
}

// Serves one request of the reverse communication.
static cavum_status serve(const cavum_lanczos_problem *problem, const workspace *w, a_int ido,
                          const a_int *pointer, cavum_error *error) {
  double *x = w->work + pointer[0] - 1, *y = w->work + pointer[1] - 1;
  if (ido == 2) {
    problem->mass(y, x, problem->context);
    return CAVUM_OK;
  }
  if (ido == 1) return problem->solve(y, w->work + pointer[2] - 1, problem->context, error);
  problem->mass(y, x, problem->context);
  return problem->solve(y, y, problem->context, error);
}

static cavum_status iterate(workspace *w, a_int *parameter, a_int *pointer,
                            const cavum_lanczos_problem *problem, int count, double tolerance,
                            cavum_error *error) {
  a_int ido = 0, info = 1;
  for (;;) {
    dsaupd_c(&ido, "G", w->size, "LM", count, tolerance, w->residual, w->num_basis, w->basis,
             w->size, parameter, pointer, w->work, w->small, w->small_size, &info);
    if (ido != -1 && ido != 1 && ido != 2) break;
    cavum_status status = cavum_stop_check(error);
    if (status == CAVUM_OK) status = serve(problem, w, ido, pointer, error);
    if (status != CAVUM_OK) return status;
  }
  if (info == 0 && parameter[4] >= count) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_LIBRARY,
                    "the eigenvalue iteration stopped with code %d and %d of %d modes", (int)info,
                    (int)parameter[4], count);
}

static void sort_pairs(double *values, double *vectors, int count, int64_t size) {
  for (int i = 0; i < count; i++) {
    int least = i;
    for (int k = i + 1; k < count; k++) {
      if (values[k] < values[least]) least = k;
    }
    if (least == i) continue;
    double value = values[i];
    values[i] = values[least];
    values[least] = value;
    for (int64_t a = 0; a < size; a++) {
      double x = vectors[i * size + a];
      vectors[i * size + a] = vectors[least * size + a];
      vectors[least * size + a] = x;
    }
  }
}

cavum_status cavum_lanczos_solve(double *values, double *vectors,
                                 const cavum_lanczos_problem *problem, int count, double shift,
                                 double tolerance, const double *start, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  workspace w = {0};
  a_int parameter[11] = {0}, pointer[14] = {0}, info = 0;
  if (!CAVUM_HOLDS(count >= 1 && count < problem->dimension)) {
    return cavum_fail_internal(error, "number of modes of the eigenvalue iteration");
  }
  status = cavum_arpack_reach(error);
  if (status != CAVUM_OK) return status;
  cavum_alone_enter(CAVUM_ALONE_ARPACK);
  CAVUM_TRY(workspace_create(&w, problem, count, error));
  memcpy(w.residual, start, (size_t)problem->size * sizeof *start);
  parameter[0] = 1;
  parameter[2] = MOST_RESTARTS;
  parameter[6] = 3;
  CAVUM_TRY(iterate(&w, parameter, pointer, problem, count, tolerance, error));
  dseupd_c(1, "A", w.select, values, vectors, w.size, shift, "G", w.size, "LM", count, tolerance,
           w.residual, w.num_basis, w.basis, w.size, parameter, pointer, w.work, w.small,
           w.small_size, &info);
  if (info != 0) {
    CAVUM_TRY(
        cavum_fail(error, CAVUM_ERR_LIBRARY, "the eigenvectors failed with code %d", (int)info));
  }
  sort_pairs(values, vectors, count, problem->size);
done:
  cavum_alone_leave(CAVUM_ALONE_ARPACK);
  workspace_clear(&w);
  return status;
}
