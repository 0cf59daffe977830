// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tally.h
 * A tally of true errors against the uncertainties that were stated; for tests and benchmarks.
 */
#ifndef CAVUM_TEST_TALLY_H
#define CAVUM_TEST_TALLY_H

#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cavum/solve.h"

enum { TALLY_MOST = 50000 };

/**
 * The changes by a cut through the tubes are estimates of first order, whose uncertainty is that of
 * their formula: two runs need not agree to it.
 */
static inline bool is_tube_cut(cavum_figure_id id) {
  return id == CAVUM_FIGURE_TUBE_CUT_FREQUENCY || id == CAVUM_FIGURE_TUBE_CUT_R_OVER_Q;
}

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

/** Largest error / uncertainty of the errors above rounding; 0 of none. Sorts. */
static inline double tally_worst(tally *all) {
  (void)tally_median_inflation(all);
  return all->num_inflations > 0 ? 1.0 / all->inflation[0] : 0.0;
}

#endif
