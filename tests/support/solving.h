// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solving.h
 * From the text of a cell file to a result, for tests; and a tally of true errors against the
 * uncertainties that were stated.
 */
#ifndef CAVUM_TEST_SOLVING_H
#define CAVUM_TEST_SOLVING_H

#include <string.h>

#include "base.h"
#include "cavum/solve.h"
#include "support.h"

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
                                               double accuracy_peak_field) {
  cavum_cell cell = solving_read(text);
  cell.accuracy_frequency = accuracy_frequency;
  cell.accuracy_peak_field = accuracy_peak_field;
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

enum { TALLY_MOST = 20000 };

/** True errors against stated uncertainties. Large: make it static. */
typedef struct tally {
  int count;  /**< Figures compared. */
  int inside; /**< True value within the uncertainty. */
  int num_inflations;
  double inflation[TALLY_MOST]; /**< uncertainty / error where the error is above rounding. */
} tally;

/**
 * Compares one figure with its true value.
 *
 * Errors below 1e-10 of the value, or below ten times what the truth itself leaves open, count as
 * rounding: they say nothing about how large an uncertainty should have been.
 *
 * @param[in] where            Printed with a miss.
 * @param[in] truth_tolerance  Absolute; what the true value itself leaves open.
 * @return Whether the true value is inside.
 */
static inline bool tally_add(tally *all, const char *where, cavum_figure_id id,
                             const cavum_figure *figure, double truth, double truth_tolerance) {
  double error = fabs(figure->value - truth);
  bool inside =
      figure->state == CAVUM_FIGURE_PRESENT && error <= figure->uncertainty + truth_tolerance;
  all->count++;
  if (inside) all->inside++;
  if (error > 1e-10 * fabs(truth) && error > 10.0 * truth_tolerance &&
      all->num_inflations < TALLY_MOST) {
    all->inflation[all->num_inflations++] = figure->uncertainty / error;
  }
  if (!inside) {
    printf("MISS %s %s: observed %.15g +- %.2e, true %.15g +- %.1e, difference %.2e\n", where,
           cavum_figure_describe(id).key, figure->value, figure->uncertainty, truth,
           truth_tolerance, figure->value - truth);
  }
  return inside;
}

static inline int tally_by_size(const void *a, const void *b) {
  double x = *(const double *)a, y = *(const double *)b;
  return (x > y) - (x < y);
}

/** Median of uncertainty / error; 0 when no error was above rounding. Sorts. */
static inline double tally_median_inflation(tally *all) {
  if (all->num_inflations == 0) return 0.0;
  qsort(all->inflation, (size_t)all->num_inflations, sizeof(double), tally_by_size);
  return all->inflation[all->num_inflations / 2];
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
