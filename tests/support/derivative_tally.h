// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file derivative_tally.h
 * Derivatives at the accuracy that is usual against those at a far tighter one; for tests and
 * benchmarks.
 */
#ifndef CAVUM_TEST_DERIVATIVE_TALLY_H
#define CAVUM_TEST_DERIVATIVE_TALLY_H

#include "random_paths.h"

static inline cavum_result *derivative_tally_solve(const cavum_cell *cell, double frequency,
                                                   double others) {
  cavum_result *result = NULL;
  cavum_solve_options options = cavum_solve_options_default();
  cavum_cell asked = *cell;
  asked.accuracy_frequency = frequency;
  asked.accuracy_other_figures = others;
  options.derivatives = true;
  (void)cavum_solve(&result, &asked, &options, NULL);  // the best there is will do
  return result;
}

/**
 * Solves a cell at 1e-6 and 1e-4, and at 1e-9 and 1e-6, which takes higher degrees on a mesh with
 * more layers at its corners, and adds every derivative of every mode that both have.
 */
static inline void derivative_tally_cell(tally *all, const cavum_cell *cell, const char *where) {
  cavum_result *usual = derivative_tally_solve(cell, 1e-6, 1e-4);
  cavum_result *tight = derivative_tally_solve(cell, 1e-9, 1e-6);
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
