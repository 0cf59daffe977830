// SPDX-License-Identifier: GPL-3.0-or-later
// How much a solve may do.
#include "solve/work.h"

static const double UNITS_PER_SECOND = 4e7, MODES_LINEAR = 4.0, MODES_SQUARE = 400.0;
// Modes that are iterated together at most: more of them go in slices.
static const double MODES_TOGETHER = 28.0;
enum { UNKNOWNS_OF_A_MODE = 30 };

double cavum_work_of_solution(int64_t num_unknowns, int num_modes) {
  double n = (double)num_unknowns, m = num_modes;
  double together = m < MODES_TOGETHER ? m : MODES_TOGETHER;
  return n * sqrt(n) * (1.0 + m / MODES_LINEAR + m * together / MODES_SQUARE) / UNITS_PER_SECOND;
}

double cavum_work_of_modes(int num_modes) {
  return cavum_work_of_solution((int64_t)UNKNOWNS_OF_A_MODE * num_modes, num_modes);
}

bool cavum_work_allows(cavum_work *work, double more_s) {
  if (work->spent_s + more_s <= work->limit_s) return true;
  work->ended = true;
  return false;
}

bool cavum_work_fits(cavum_work *work, const cavum_memory_case *need) {
  if (cavum_memory_estimate_bytes(need) <= work->memory_limit_bytes) return true;
  work->ended = work->memory_ended = true;
  return false;
}
