// SPDX-License-Identifier: GPL-3.0-or-later
// The side of C of tests/bench/bench_python.py, which loads this: warm solves as a program of other
// people has them, with the shared library, in the process and with the solver and the cell of
// Python's.
#include <stdio.h>
#include <time.h>

#include "cavum/cavum.h"

/** What some solves took. */
typedef struct bench_cost {
  double wall_us, processor_us;
} bench_cost;

static double now_us(clockid_t clock) {
  struct timespec t;
  clock_gettime(clock, &t);
  return 1e6 * (double)t.tv_sec + 1e-3 * (double)t.tv_nsec;
}

static cavum_status solve_all(double *sum_hz, cavum_solver *solver, cavum_cell *cell,
                              const double *radii_mm, int count) {
  cavum_error error;
  for (int i = 0; i < count; i++) {
    cavum_result *result = NULL;
    cavum_status status = cavum_cell_set(cell, "equator_radius_mm", radii_mm[i], &error);
    if (status == CAVUM_OK) status = cavum_solver_solve(&result, solver, cell, &error);
    if (status != CAVUM_OK) {
      fprintf(stderr, "bench_python: %s\n", error.message);
      return status;
    }
    *sum_hz += cavum_mode_figure(cavum_result_mode(result, 0), CAVUM_FIGURE_FREQUENCY).value;
    cavum_result_destroy(&result);
  }
  return CAVUM_OK;
}

/** Solves a cell with these radii and looks at the frequency of each. */
__attribute__((visibility("default"))) cavum_status bench_solve(bench_cost *cost, double *sum_hz,
                                                                cavum_solver *solver,
                                                                cavum_cell *cell,
                                                                const double *radii_mm, int count) {
  double wall_us = now_us(CLOCK_MONOTONIC), processor_us = now_us(CLOCK_THREAD_CPUTIME_ID);
  cavum_status status = solve_all(sum_hz, solver, cell, radii_mm, count);
  cost->processor_us = now_us(CLOCK_THREAD_CPUTIME_ID) - processor_us;
  cost->wall_us = now_us(CLOCK_MONOTONIC) - wall_us;
  return status;
}
