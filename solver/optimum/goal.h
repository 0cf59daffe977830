// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/goal.h
 * A goal inside the library. What it varies is read and set as a study does it.
 */
#ifndef CAVUM_OPTIMUM_GOAL_H
#define CAVUM_OPTIMUM_GOAL_H

#include "cavum/optimum.h"
#include "scan/study.h"

/** Bounds on what a goal may ask for. */
enum {
  CAVUM_GOAL_MOST_VARIABLES = 24,
  CAVUM_GOAL_MOST_TERMS = 8,
  CAVUM_GOAL_MOST_LIMITS = 24,
  CAVUM_GOAL_MOST_QUANTITIES = CAVUM_GOAL_MOST_TERMS + CAVUM_GOAL_MOST_LIMITS,
  CAVUM_GOAL_MOST_CELLS = CAVUM_GOAL_CELLS_MOST,
  CAVUM_GOAL_MOST_FREE_POINTS = 20, /**< Of a half; halves that differ take 11 at most. */
  CAVUM_GOAL_TRIES = 32 /**< Points of the sequence for each start: some are no shapes. */
};

/** What tolerances add to a figure, in the worst case for the worse, in the mean with its sign:
 * linear about a place. In the worst case of the straight wall to its square, in m^2, which changes
 * evenly where the wall vanishes as a root. All 0: nothing. */
typedef struct cavum_goal_margin {
  double value; /**< SI, at the place; in the worst case >= 0. */
  double at[CAVUM_GOAL_MOST_VARIABLES];
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< SI, over the range of each variable. */
  /** Of peaks whose places along the wall have spreads of their own, which each solve tells: how
   * what these add changes, by points of the profile. */
  int num_places;
  struct cavum_goal_place_margin *places; /**< Owned, shape [num_places]; NULL: none. */
  double tilt[CAVUM_GOAL_MOST_VARIABLES]; /**< Of the mean of a peak, SI: by what the tolerances do
                                               to its places, which changes with each variable. */
} cavum_goal_margin;

/** How the margin of a place changes. */
typedef struct cavum_goal_place_margin {
  cavum_index point;
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< SI, over the range of each variable. */
} cavum_goal_place_margin;

/** One figure with its weight in the objective, the power in the product that is to be least; 0 of
 * a limit. */
typedef struct cavum_goal_quantity {
  cavum_requirement what; /**< Its key has the name of the cell and a dot in front, but of the first
                               cell. */
  int cell;               /**< Of which cell. */
  bool is_of_wall; /**< A figure of the splines of a path: least over the places along them. */
  int worse;       /**< 1: more of it is worse, -1: less; 0: neither, or both. */
  bool by_places;  /**< Tolerances are taken for each place along the wall that may be the peak. */
  bool is_default; /**< A limit that the goal does not name. */
  cavum_goal_margin margin;
  double weight;
} cavum_goal_quantity;

/** A figure against the objective: its limit goes from the loose end to the tight one. */
typedef struct cavum_goal_axis {
  int quantity;        /**< Among those of the goal: a limit. */
  double loose, tight; /**< In the unit of its key. */
  int num_points;
  bool smaller; /**< The figure is better when it is smaller: the limit is its most. */
} cavum_goal_axis;

/** A wall from iris to equator that is a spline. */
typedef struct cavum_goal_free_wall {
  int num_points;      /**< Between iris and equator; 0: the wall is not free. */
  double within_mm;    /**< How far each may go along the normal. */
  double radius_mm[2]; /**< Smallest of curvature, iris side and equator side; NAN: as in the best
                            shape of two ellipses. */
} cavum_goal_free_wall;

/** A base cell that shares the dimensions that vary. */
typedef struct cavum_goal_cell {
  char name[CAVUM_OPTIMUM_NAME_SIZE]; /**< "" of the first. */
  cavum_study *study; /**< Owned but of the first, whose study is that of the goal: base cell, mode,
                           coupling, and the inputs of all cells in it. */
} cavum_goal_cell;

struct cavum_goal {
  cavum_study *study; /**< Owned: base cell, inputs, starts, mode, coupling. Variables are its
                           varied inputs and the held one, the first inputs in this order. */
  int num_cells;
  cavum_goal_cell cells[CAVUM_GOAL_MOST_CELLS];
  int num_variables;
  double low[CAVUM_GOAL_MOST_VARIABLES], high[CAVUM_GOAL_MOST_VARIABLES];
  double step[CAVUM_GOAL_MOST_VARIABLES]; /**< Of rounding; 0: none. */
  int num_terms, num_quantities;          /**< Terms of the objective come first, then limits. */
  cavum_goal_quantity quantities[CAVUM_GOAL_MOST_QUANTITIES];
  int num_starts, most_solves, num_threads;
  double tolerance; /**< Of the first-order conditions. */
  bool is_robust;   /**< Figures are those of the worst case or means, not nominal ones. */
  bool is_apart;    /**< Halves that agree and err alone are told apart: what one of them does to
                       the places of a peak is known then. */
  cavum_robust_kind robust; /**< What tolerances are taken for. */
  double deviations;        /**< Standard deviations that limits and objective keep; 0: none. */
  double *mean_draws;       /**< Owned: of the tolerances, for means (optimum/mean.h); else NULL. */
  struct cavum_tolerances
      *tolerances; /**< Owned: of the dimensions of the first cell; NULL: none. */
  int num_axes;    /**< Of a front; 0: the goal is one best shape. */
  cavum_goal_axis axes[CAVUM_FRONT_MOST_AXES];
  cavum_goal_free_wall free_wall;
  cavum_optimum_watcher *watcher;   /**< Is told how far a search is; NULL: nobody. */
  void *watcher_data;               /**< Borrowed. */
  struct cavum_search_watch *watch; /**< Borrowed while a search runs (optimum/search_watch.h);
                                       NULL: nothing is told. */
};

/** The study of the cell of a quantity. */
static inline const cavum_study *cavum_goal_study_of(const cavum_goal *goal,
                                                     const cavum_goal_quantity *q) {
  return goal->cells[q->cell].study;
}

/** Whether a quantity is a peak over the wall: 0 of E, 1 of H, -1 none. */
static inline int cavum_goal_peak(const cavum_goal_quantity *q) {
  if (q->what.kind != CAVUM_REQUIRE_FIGURE) return -1;
  return q->what.figure == CAVUM_FIGURE_EPK_OVER_EACC   ? 0
         : q->what.figure == CAVUM_FIGURE_BPK_OVER_EACC ? 1
                                                        : -1;
}

#endif
