// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file rate_series.h
 * Times of many solves, stage by stage: cold, by cavum_solve(), and warm, by a solver that has just
 * solved a neighbouring shape.
 */
#ifndef CAVUM_BENCH_RATE_SERIES_H
#define CAVUM_BENCH_RATE_SERIES_H

#include "cavum/cavum.h"
#include "neighbour.h"
#include "rate_report.h"
#include "warm_cold.h"

/** Stages of a solve; the rest is what the solver's own clocks do not see. */
typedef enum rate_stage {
  RATE_CONTOUR,
  RATE_MESH,
  RATE_COEFFICIENTS,
  RATE_EIGEN,
  RATE_FIGURES,
  RATE_REST,
  RATE_TOTAL,
  RATE_NUM_STAGES
} rate_stage;

enum { RATE_SERIES_MOST = 1000 };

/** Seconds of every solve of one kind. Large: make it static. */
typedef struct rate_series {
  int count;       /**< Solves that were timed. */
  int not_reached; /**< Among them: the accuracy asked for was not reached. */
  int failed;      /**< Solves without a result; not timed. */
  double seconds[RATE_NUM_STAGES][RATE_SERIES_MOST];
} rate_series;

/** Cold and warm solves of the same shapes, and how far their figures are apart. */
typedef struct rate_pair {
  rate_series cold, warm;
  warm_cold apart;
  int skipped; /**< Neighbours that no wall can have. */
} rate_pair;

/** The two accuracies that are timed. */
typedef struct rate_accuracy {
  const char *name; /**< Part of keys. */
  double frequency, other_figures;
} rate_accuracy;

enum { RATE_DEFAULT, RATE_TIGHT, RATE_NUM_ACCURACIES };
extern const rate_accuracy rate_accuracies[RATE_NUM_ACCURACIES];

/**
 * Solves a cell with the solver, then a neighbour of it (timed as warm), then the neighbour afresh
 * (timed as cold). The accuracy and the number of modes are those of the cell.
 * @param[in] state  Draws the neighbour.
 * @param[in] shape  Number of the shape, for messages.
 */
void rate_pair_add(rate_pair *pair, cavum_solver *solver, const cavum_cell *cell,
                   random_state *state, int shape);

/**
 * Prints medians and 99th percentiles and sets PREFIX[_]{cold,warm}_ACCURACY_ms, ..._p99_ms and
 * ..._STAGE_us.
 * @param[in] prefix  Of the keys, with its underscore; may be empty.
 * @param[in] title   For people.
 */
void rate_pair_report(rate_pair *pair, json_t *report, const char *prefix, const char *title,
                      const rate_accuracy *accuracy);

/** Median of a stage in seconds. */
double rate_series_median(rate_series *series, rate_stage stage);

#endif
