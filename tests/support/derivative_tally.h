// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file derivative_tally.h
 * Derivatives at the accuracy that is usual against those at a far tighter one; for tests and
 * benchmarks.
 */
#ifndef CAVUM_TEST_DERIVATIVE_TALLY_H
#define CAVUM_TEST_DERIVATIVE_TALLY_H

#include "cavum/solver.h"
#include "neighbour.h"
#include "random_paths.h"

/** How a cell is solved at the usual accuracy. */
typedef struct derivative_tally_way {
  bool warm;          /**< After a neighbour, by the same solver. */
  bool without_peaks; /**< No derivatives of peaks, so that half a mirrored path is solved. */
} derivative_tally_way;

static inline cavum_solve_options derivative_tally_options(bool without_peaks) {
  cavum_solve_options options = cavum_solve_options_default();
  options.derivatives = true;
  if (without_peaks) {
    options.derivatives_of =
        ((UINT64_C(1) << CAVUM_NUM_FIGURES) - 1) &
        ~(UINT64_C(1) << CAVUM_FIGURE_EPK_OVER_EACC | UINT64_C(1) << CAVUM_FIGURE_BPK_OVER_EACC);
  }
  return options;
}

/** A solver that has solved a neighbour of a cell, NULL without one; adjoint vectors and uncertain
 * ranges of the cell start from what it left. */
static inline cavum_solver *derivative_tally_warm(const cavum_cell *cell,
                                                  const cavum_solve_options *options) {
  cavum_solver *solver = NULL;
  cavum_cell near;
  random_state state = {7};
  bool exists = neighbour_make(&near, cell, &state, NEIGHBOUR_STEP);
  if (exists && cavum_solver_create(&solver, options, NULL) == CAVUM_OK) {
    cavum_result *result = NULL;
    (void)cavum_solver_solve(&result, solver, &near, NULL);
    cavum_result_destroy(&result);
  }
  neighbour_clear(&near);
  return solver;
}

static inline cavum_result *derivative_tally_solve(const cavum_cell *cell, double frequency,
                                                   double others, derivative_tally_way way) {
  cavum_result *result = NULL;
  cavum_solve_options options = derivative_tally_options(way.without_peaks);
  cavum_cell asked = *cell;
  asked.accuracy_frequency = frequency;
  asked.accuracy_other_figures = others;
  cavum_solver *solver = way.warm ? derivative_tally_warm(&asked, &options) : NULL;
  if (solver) {
    (void)cavum_solver_solve(&result, solver, &asked, NULL);  // the best there is will do
  } else {
    (void)cavum_solve(&result, &asked, &options, NULL);
  }
  cavum_solver_destroy(&solver);
  return result;
}

/**
 * Solves a cell at 1e-6 and 1e-4, and at 1e-9 and 1e-6, which takes higher degrees on a mesh with
 * more layers at its corners, and adds every derivative of every mode that both have.
 */
static inline void derivative_tally_cell(tally *all, const cavum_cell *cell, const char *where,
                                         derivative_tally_way way) {
  cavum_result *usual = derivative_tally_solve(cell, 1e-6, 1e-4, way);
  cavum_result *tight = derivative_tally_solve(cell, 1e-9, 1e-6, (derivative_tally_way){0});
  for (int m = 0; usual && tight && m < usual->num_modes && m < tight->num_modes; m++) {
    for (int i = 0; i < usual->num_dimensions * CAVUM_FIGURES_ROOM; i++) {
      const cavum_derivative *a = &usual->modes[m].derivatives[i];
      const cavum_derivative *b = &tight->modes[m].derivatives[i];
      char place[256];
      if (a->state != CAVUM_FIGURE_PRESENT || b->state != CAVUM_FIGURE_PRESENT) continue;
      cavum_figure figure = {.state = a->state, .value = a->value, .uncertainty = a->uncertainty};
      snprintf(place, sizeof place, "%s mode %d by %s", where, m + 1,
               usual->dimensions[i / CAVUM_FIGURES_ROOM].key);
      tally_add(all, place, (cavum_figure_id)(i % CAVUM_FIGURES_ROOM), &figure, b->value,
                b->uncertainty);
    }
  }
  cavum_result_destroy(&usual);
  cavum_result_destroy(&tight);
}

#endif
