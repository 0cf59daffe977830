// SPDX-License-Identifier: GPL-3.0-or-later
// The remembering solver.
#include "solve/solver.h"

#include <stdatomic.h>

#include "base/base.h"
#include "solve/options.h"
#include "solve/solve.h"

struct cavum_solver {
  cavum_solve_options options;
  cavum_solver_memory memory;
  atomic_flag in_use;  // While it solves.
};

cavum_status cavum_solver_create(cavum_solver **solver, const cavum_solve_options *options,
                                 cavum_error *error) {
  cavum_solve_options full;
  if (!solver) return cavum_fail_null(error, __func__);
  cavum_status status = cavum_solve_options_take(&full, options, error);
  if (status != CAVUM_OK) return status;
  cavum_solver *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->options = full;
  atomic_flag_clear(&made->in_use);
  *solver = made;
  return CAVUM_OK;
}

void cavum_solver_destroy(cavum_solver **solver) {
  if (!solver || !*solver) return;
  cavum_solver_memory_clear(&(*solver)->memory);
  free(*solver);
  *solver = NULL;
}

cavum_status cavum_solver_solve(cavum_result **result, cavum_solver *solver, const cavum_cell *cell,
                                cavum_error *error) {
  if (!result || !solver) return cavum_fail_null(error, __func__);
  if (atomic_flag_test_and_set_explicit(&solver->in_use, memory_order_acquire)) {
    return cavum_fail(error, CAVUM_ERR_USAGE,
                      "the solver is solving already: each thread needs a solver of its own");
  }
  cavum_status status =
      cavum_solve_remembering(result, &solver->memory, cell, &solver->options, error);
  atomic_flag_clear_explicit(&solver->in_use, memory_order_release);
  return status;
}

void cavum_solver_forget(cavum_solver *solver) {
  if (solver) cavum_solver_memory_clear(&solver->memory);
}

void cavum_solver_use_one_degree(cavum_solver *solver) { solver->memory.one_degree = true; }

void cavum_solver_use_densities_alone(cavum_solver *solver) {
  solver->memory.densities_alone = true;
}
