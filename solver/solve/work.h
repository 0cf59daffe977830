// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/work.h
 * How much a solve may do. Work is counted, not measured, so that a result does not depend on the
 * machine or on who else uses it.
 */
#ifndef CAVUM_SOLVE_WORK_H
#define CAVUM_SOLVE_WORK_H

#include <stdbool.h>

#include "base/base.h"
#include "solve/memory_need.h"

/** The limit where none is given, s. */
#define CAVUM_WORK_LIMIT_S 60.0

/** The work of one problem. */
typedef struct cavum_work {
  double limit_s, spent_s;
  bool ended; /**< Something was left out because of a limit. */
  double memory_limit_bytes;
  bool memory_ended; /**< It was the limit of memory. */
} cavum_work;

/**
 * Estimate of the work of a solution: N^1.5 (1 + m / 4 + m min(m, 28) / 400) / 4e7 s for m modes of
 * N unknowns.
 *
 * N^1.5 is what nested dissection of a plane mesh takes [Liu1992], the products of an iteration of
 * m vectors go as m and m^2, up to those that are iterated together. The number is what was
 * measured on one core at 3,000 to 120,000 unknowns and 1 to 200 modes, to a factor of two.
 */
double cavum_work_of_solution(int64_t num_unknowns, int num_modes);

/** The least that m modes can take: they need some 30 unknowns each. */
double cavum_work_of_modes(int num_modes);

/** Whether so much more is within the limit; where not, that is noted. */
bool cavum_work_allows(cavum_work *work, double more_s);

/** Whether a solution is within the limit of memory; where not, that is noted. */
bool cavum_work_fits(cavum_work *work, const cavum_memory_case *need);

#endif
