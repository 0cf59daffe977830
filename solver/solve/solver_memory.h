// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solver_memory.h
 * What a solver keeps from one cell to the next: a memory for each problem.
 */
#ifndef CAVUM_SOLVE_SOLVER_MEMORY_H
#define CAVUM_SOLVE_SOLVER_MEMORY_H

#include "solve/problem_memory.h"

/** One memory for each of the problems that a cell can need. */
typedef struct cavum_solver_memory {
  cavum_problem_memory main;     /**< The cell as it is. */
  cavum_problem_memory zero, pi; /**< With electric and with magnetic ends, for the coupling. */
  cavum_problem_memory close;    /**< The cell with modes that are close behind those asked for. */
  bool one_degree;      /**< See cavum_solver_use_one_degree(); not forgotten with the rest. */
  bool densities_alone; /**< See cavum_solver_use_densities_alone(); likewise. */
} cavum_solver_memory;

/** Forgets everything and frees it. */
void cavum_solver_memory_clear(cavum_solver_memory *memory);

#endif
