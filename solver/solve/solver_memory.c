// SPDX-License-Identifier: GPL-3.0-or-later
// The memories of all problems of a cell.
#include "solve/solver_memory.h"

void cavum_solver_memory_clear(cavum_solver_memory *memory) {
  cavum_problem_memory_clear(&memory->main);
  cavum_problem_memory_clear(&memory->zero);
  cavum_problem_memory_clear(&memory->pi);
  cavum_problem_memory_clear(&memory->close);
}
