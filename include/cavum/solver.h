// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solver.h
 * A solver that remembers: for many neighbouring cells in one process.
 *
 * Threads: each solver is used by one thread at a time; any number of solvers may work at once,
 * each in its own thread. They wait for one another only while one of them is in ARPACK, which is
 * not reentrant: several modes on an unknown mesh, modes near a frequency.
 */
#ifndef CAVUM_SOLVER_H
#define CAVUM_SOLVER_H

#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * Opaque. Keeps reference tables, work space, mesh topology, symbolic analysis and the last modes.
 * One per thread of work.
 */
typedef struct cavum_solver cavum_solver;

/**
 * Makes a solver.
 * @param[out] solver   Owned by the caller (cavum_solver_destroy()).
 * @param[in]  options  For every solve; NULL: defaults. Copied.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  no place for the solver, or options that never saw their defaults.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_solver_create(cavum_solver **solver,
                                           const cavum_solve_options *options, cavum_error *error);

/** Frees a solver and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_solver_destroy(cavum_solver **solver);

/**
 * Solves a cell like cavum_solve(), reusing what fits from the cells before.
 *
 * What is reused is checked, never assumed; the result agrees with that of a fresh solver well
 * inside the stated uncertainties, and a given order of cells gives the same bits every time.
 * Parameters and errors are those of cavum_solve(), and
 * @retval CAVUM_ERR_USAGE  the solver is solving already, in another thread or in a callback of its
 *                          own.
 */
CAVUM_API cavum_status cavum_solver_solve(cavum_result **result, cavum_solver *solver,
                                          const cavum_cell *cell, cavum_error *error);

/** Forgets the cells before: the next solve gives the bits of a fresh solver; NULL is accepted. Not
 * while it solves. */
CAVUM_API void cavum_solver_forget(cavum_solver *solver);

#ifdef __cplusplus
}
#endif
#endif
