// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/ladder_state.h
 * A ladder of degrees on one mesh: what it is asked for and how far it has come.
 */
#ifndef CAVUM_SOLVE_LADDER_STATE_H
#define CAVUM_SOLVE_LADDER_STATE_H

#include "element/thin_conductor.h"
#include "solve/mode_history.h"
#include "solve/problem_memory.h"
#include "solve/work.h"

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
  const struct cavum_solution *start; /**< Borrowed: modes of another mesh of the same topology to
                                           start from, or NULL. */
  cavum_work *work;                   /**< Borrowed: what may be done; NULL: anything. */
  cavum_solve_watcher *watcher;       /**< Called before each solution; may be NULL. */
  void *watcher_data;
  cavum_log_hook *log; /**< Told as well; may be NULL. */
  void *log_data;
} cavum_ladder_request;

/** A climbed ladder: the last solution and what its figures were at the degrees before. */
typedef struct cavum_ladder {
  cavum_problem_memory *memory; /**< Borrowed. */
  cavum_solution *solution;     /**< The last one, in the memory. */
  cavum_solution *before;       /**< The one before, likewise, or NULL. */
  bool is_warm;                 /**< It began with the modes of a neighbouring shape. */
  cavum_solution *rough;        /**< The start of several modes, in the memory, or NULL. */
  double counted_k2_per_m2;     /**< Shift at which the rough start counted modes, above them all;
                                     0: it did not. */
  int64_t num_counted;          /**< Modes of all classes below. */
  cavum_mode_history *history;  /**< Owned, [num_modes]. */
  int num_modes;
  int degree;            /**< That figures are judged at. */
  bool keeps_mesh;       /**< No other mesh follows, whose corners may be graded better. */
  bool out_of_reach;     /**< Some figure, at any degree of this mesh. */
  bool has_regions;      /**< Peaks of E may be refined on a region of their own. */
  bool reached;          /**< Every figure within the accuracy asked for. */
  int missing;           /**< Degrees that are likely to be still needed. */
  int nearest;           /**< The same of the figure that needs least; 0: none is needed. */
  double worst_one_less; /**< Largest uncertainty over what was asked for, among all figures, as it
                              may have been at one degree less. */
  cavum_thin_conductor thin; /**< That the mesh carries worst at the last degree. */
  int num_steps;
  cavum_convergence_step steps[CAVUM_DEGREE_MOST];
} cavum_ladder;

/** Frees what it owns; NULL is accepted. */
void cavum_ladder_clear(cavum_ladder *ladder);

/** Takes into account whether a figure's uncertainty is enough, how many degrees it still lacks,
 * and what one degree less would have given. */
void cavum_ladder_judge(cavum_ladder *ladder, const cavum_cell *cell,
                        const cavum_mode_values *values, const cavum_history *history,
                        cavum_figure_id id);

/** Raises the number of degrees that are likely to be still needed. */
void cavum_ladder_require(cavum_ladder *ladder, int missing);

/** True when a solution has as many modes as are wanted. */
bool cavum_ladder_has_all_modes(const cavum_solution *solution,
                                const cavum_ladder_request *request);

#endif
