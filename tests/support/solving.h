// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solving.h
 * From the text of a cell file to a result, and checks of a tally of uncertainties, for tests.
 */
#ifndef CAVUM_TEST_SOLVING_H
#define CAVUM_TEST_SOLVING_H

#include <string.h>

#include "base/base.h"
#include "cavum/solve.h"
#include "support.h"
#include "tally.h"

/** Reads a cell from text; the test fails with the message otherwise. Clear with cavum_cell_clear.
 */
static inline cavum_cell solving_read(const char *text) {
  cavum_cell cell;
  cavum_error error = {0};
  cavum_status status = cavum_cell_read_text(&cell, text, strlen(text), "test.yaml", &error);
  ck_assert_msg(status == CAVUM_OK, "%s", error.message);
  return cell;
}

/** Solves a cell; the test fails with the message unless the accuracy asked for was reached. */
static inline cavum_result *solving_solve(const cavum_cell *cell,
                                          const cavum_solve_options *options) {
  cavum_result *result = NULL;
  cavum_error error = {0};
  cavum_status status = cavum_solve(&result, cell, options, &error);
  ck_assert_msg(status == CAVUM_OK, "%s: %s", cell->title ? cell->title : "", error.message);
  return result;
}

/** Reads and solves in one go with the accuracies given. */
static inline cavum_result *solving_solve_text(const char *text, double accuracy_frequency,
                                               double accuracy_other_figures) {
  cavum_cell cell = solving_read(text);
  cell.accuracy_frequency = accuracy_frequency;
  cell.accuracy_other_figures = accuracy_other_figures;
  cavum_result *result = solving_solve(&cell, NULL);
  cavum_cell_clear(&cell);
  return result;
}

/** Value of a figure that must be there. */
static inline double solving_value(const cavum_mode_result *mode, cavum_figure_id id) {
  ck_assert_msg(mode->figures[id].state == CAVUM_FIGURE_PRESENT, "%s is not there",
                cavum_figure_describe(id).key);
  return mode->figures[id].value;
}

/**
 * Prints what was found and checks it: at least this share inside, and a median of uncertainty over
 * error no larger than this where there are enough errors above rounding for a median.
 */
static inline void tally_check(tally *all, const char *name, double share_least,
                               double median_most) {
  enum { ENOUGH = 20 };
  double share = (double)all->inside / all->count, median = tally_median_inflation(all);
  printf(
      "%s: %d figures, %.3f %% inside their uncertainty; %d errors above rounding, median "
      "uncertainty / error %.1f\n",
      name, all->count, 100.0 * share, all->num_inflations, median);
  ck_assert_int_gt(all->count, 0);
  ck_assert_msg(share >= share_least, "%s: %d of %d figures miss their uncertainty", name,
                all->count - all->inside, all->count);
  ck_assert_msg(all->num_inflations < ENOUGH || median <= median_most, "%s: median inflation %.1f",
                name, median);
}

/** The project's promise: an uncertainty that holds and is about 100 times the error at most. */
#define TALLY_MEDIAN_MOST 100.0
/**
 * Where a field is analytic up to the wall each degree gains one or two digits, and an estimate
 * that does not trust such luck, because where the curvature jumps it does not last, comes out as
 * large as the error of one or two degrees before.
 */
#define TALLY_MEDIAN_MOST_ANALYTIC 500.0

#endif
