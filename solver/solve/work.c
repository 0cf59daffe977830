// SPDX-License-Identifier: GPL-3.0-or-later
// How much a solve may do.
#include "solve/work.h"

static const double UNITS_PER_SECOND = 4e7, MODES_LINEAR = 4.0, MODES_SQUARE = 400.0;
enum { UNKNOWNS_OF_A_MODE = 30 };

double cavum_work_of_solution(int64_t num_unknowns, int num_modes) {
  double n = (double)num_unknowns, m = num_modes;
  return n * sqrt(n) * (1.0 + m / MODES_LINEAR + m * m / MODES_SQUARE) / UNITS_PER_SECOND;
}

double cavum_work_of_modes(int num_modes) {
  return cavum_work_of_solution((int64_t)UNKNOWNS_OF_A_MODE * num_modes, num_modes);
}

bool cavum_work_allows(cavum_work *work, double more_s) {
  if (work->spent_s + more_s <= work->limit_s) return true;
  work->ended = true;
  return false;
}
