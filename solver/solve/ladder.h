// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/ladder.h
 * Rising degrees on one mesh until every figure is known well enough.
 */
#ifndef CAVUM_SOLVE_LADDER_H
#define CAVUM_SOLVE_LADDER_H

#include "solve/problem_memory.h"
#include "solve/uncertainty.h"

/** Histories of all numbers of one mode. */
typedef struct cavum_mode_history {
  cavum_history figures[CAVUM_NUM_FIGURES];
  cavum_history voltage_of_beta[CAVUM_BETA_POINTS];
  cavum_history integral_over_abs, voltage_over_abs; /**< Of cavum_mode_values. */
  cavum_wall_samples *samples; /**< Owned: fields along the metal at the last degree, or NULL. */
  double eacc_v_per_m;         /**< Gradient at one joule at the last degree. */
} cavum_mode_history;

/** What a ladder is asked for. */
typedef struct cavum_ladder_request {
  const cavum_cell *cell; /**< Borrowed. */
  bool half_model;
  int first_degree; /**< The first solution; it brings the two degrees below. */
  int last_degree;
  bool single; /**< No degrees below the first. */
  bool
      can_refine; /**< A finer mesh may follow: give up when that promises more than climbing on. */
  bool curves;    /**< Also the R/Q curve over beta. */
  bool fixed;     /**< Climb to last_degree whatever the uncertainties say. */
  cavum_solve_watcher *watcher; /**< Called before each solution; may be NULL. */
  void *watcher_data;
} cavum_ladder_request;

/** A climbed ladder: the last solution and what its figures were at the degrees before. */
typedef struct cavum_ladder {
  cavum_problem_memory *memory; /**< Borrowed. */
  cavum_solution *solution;     /**< The last one, in the memory. */
  const cavum_solution *before; /**< The one before, likewise, or NULL. */
  cavum_solution *rough;        /**< The start of several modes, in the memory, or NULL. */
  cavum_mode_history *history;  /**< Owned, [num_modes]. */
  int num_modes;
  bool has_regions;      /**< Peaks of E may be refined on a region of their own. */
  bool reached;          /**< Every figure within the accuracy asked for. */
  int missing;           /**< Degrees that are likely to be still needed. */
  double worst_one_less; /**< Largest uncertainty over what was asked for, among all figures, as it
                              may have been at one degree less. */
  int num_steps;
  cavum_convergence_step steps[CAVUM_DEGREE_MOST];
} cavum_ladder;

/**
 * Climbs on the mesh of the memory. On success the figures of ladder->solution->modes carry their
 * uncertainties.
 * @param[out] ladder  Overwritten; release with cavum_ladder_clear() also after an error.
 */
cavum_status cavum_ladder_climb(cavum_ladder *ladder, cavum_problem_memory *memory,
                                const cavum_ladder_request *request, cavum_timings *timings,
                                cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_ladder_clear(cavum_ladder *ladder);

/** True when a figure with this uncertainty is as accurate as the cell asks. */
bool cavum_ladder_is_accurate(const cavum_figure *figure, cavum_figure_id id,
                              const cavum_cell *cell);

/**
 * Checks by inertia that no mode was missed.
 *
 * Lowest modes: the number of modes below a bound just above the highest reported one must be the
 * number reported, at a low degree with a wide margin or, should another mode lie in that margin,
 * at the degree of the solution. Modes near a frequency: likewise between a bound just below the
 * lowest and one just above the highest.
 *
 * @param[out] below_hz, above_hz  The checked window; above_hz is 0 for the lowest modes.
 * @param[out] num_close  Of the lowest modes: how many of other classes than the last one lie
 * within a part of 1e-5 of k^2 above it, or below it, and are not reported.
 * @retval CAVUM_ERR_INCOMPLETE  the numbers disagree.
 */
cavum_status cavum_ladder_check_complete(double *below_hz, double *above_hz, int *num_close,
                                         cavum_ladder *ladder, const cavum_ladder_request *request,
                                         cavum_error *error);

#endif
