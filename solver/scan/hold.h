// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file scan/hold.h
 * Holding a frequency by one dimension: where to try next.
 *
 * The shapes of a batch that were solved before say where the dimension of the next will lie: a
 * plane through the nearest of them, weighted by distance; where derivatives of the frequency by
 * all that varies are known, each of them leads there along its own gradient. From there secant
 * steps, the first with the slope that they have seen, or Newton steps where the derivative is
 * known. All but the last solves of a shape only scout: they are coarse and give no figures. Where
 * the last guesses of a batch were good, and the derivative is there to correct what they miss, the
 * first solve of a shape is a full one. Nothing here solves anything.
 */
#ifndef CAVUM_SCAN_HOLD_H
#define CAVUM_SCAN_HOLD_H

#include "scan/study.h"

/** Solves of one shape, and places without a shape, before it is given up. */
enum { CAVUM_HOLD_MOST_SOLVES = 12, CAVUM_HOLD_MOST_RETREATS = 64 };

/** The held shapes of a batch. Zero-initialise. */
typedef struct cavum_hold_memory {
  int num_varied;
  int num_points, capacity;
  double *varied; /**< Owned, shape [capacity, num_varied]: varied inputs. */
  double *solved; /**< Owned, shape [capacity]: the held dimension that met the frequency. */
  double *slope;  /**< Owned, shape [capacity]: df / d(dimension) there. */
  double *slope_uncertainty; /**< Owned, shape [capacity]: relative uncertainty of the slope. */
  double *gradient;   /**< Owned, shape [capacity, num_varied]: of the held dimension by the varied
                         inputs at that frequency, measured by their spread. */
  bool has_gradients; /**< Of all points. */
  double *scale;      /**< Owned, shape [num_varied]: spread of each varied input, to measure by. */
  int num_misses;     /**< How many shapes were guessed from others. */
  double miss, miss_before; /**< By how much the last two guesses missed, relative. */
} cavum_hold_memory;

/** Makes a memory for the batches of a study. */
cavum_status cavum_hold_open(cavum_hold_memory *memory, const cavum_study *study,
                             cavum_error *error);

/** Frees what a memory owns. */
void cavum_hold_clear(cavum_hold_memory *memory);

/** One search for a dimension. */
typedef struct cavum_hold_search {
  double target_hz, tolerance_hz, low, high;
  double value;             /**< Where to solve next. */
  double slope;             /**< df / d(dimension), Hz per unit. */
  double slope_uncertainty; /**< Relative uncertainty of a slope that is known. */
  bool slope_known;         /**< It was seen here or at a neighbour, not guessed. */
  int num_solves, num_retreats, most_solves;
  bool shapes_end_low, shapes_end_high; /**< There is no shape beyond this end. */
  double last_value, last_hz;           /**< Of the solve before. */
  double last_uncertainty_hz;
  double below, above; /**< Values known to lie on either side of the target; NAN: not known. */
  bool scouting;       /**< The next solve need only find the frequency, and roughly. */
  bool met, lost;      /**< Ended: at `last_value`, or without success. */
  bool has_derivative; /**< Set by who solved, for the next advance: `derivative` is that. */
  double derivative;   /**< df / d(dimension) there. */
  double derivative_uncertainty; /**< Relative. */
  bool slope_exact;              /**< The slope is a derivative, not a secant. */
  double
      reach; /**< Relative miss from which a derivative leads to the frequency, without a solve. */
  double first_miss; /**< Relative, of the first guess. */
} cavum_hold_search;

/**
 * Remembers a shape whose search has met its frequency, at a dimension.
 * @param[in] by  Derivatives of the frequency by the varied inputs, shape [num_varied]; NULL: not
 *                known.
 */
void cavum_hold_remember(cavum_hold_memory *memory, const double *varied, double solved,
                         const double *by, const cavum_hold_search *search);

/** Starts a search; reach: see there, 0 where no derivative will be known. */
void cavum_hold_start(cavum_hold_search *search, const cavum_hold_memory *memory,
                      const cavum_study *study, const double *varied, double reach);

/**
 * Tells a search the frequency at its value, with its uncertainty; sets the next value unless it
 * has ended. Only a solve that was not scouting can end it with success.
 */
void cavum_hold_advance(cavum_hold_search *search, double frequency_hz, double uncertainty_hz);

/**
 * Tells a search that there is no shape, or no frequency, at its value. Once a frequency is known,
 * it goes half way back; before that, through the range, ever more finely.
 */
void cavum_hold_retreat(cavum_hold_search *search);

/**
 * Starts once more behind the end of the shapes that kept a search from the frequency: shapes may
 * exist again there. False when no such end was met, or no range is left behind it.
 */
bool cavum_hold_go_behind(cavum_hold_search *search, const cavum_hold *range);

/**
 * Last Newton correction of a search that has met its frequency to the tolerance: what to add to
 * the dimension for the frequency itself, 0 where the slope is only guessed.
 */
double cavum_hold_correction(const cavum_hold_search *search);

#endif
