// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/point.h
 * A shape that was solved, as a search sees it: every figure of the goal with its derivatives, and
 * of peaks the places along the wall that compete.
 */
#ifndef CAVUM_OPTIMUM_POINT_H
#define CAVUM_OPTIMUM_POINT_H

#include "cavum/tolerance.h"
#include "optimum/goal.h"
#include "optimum/vanishing.h"

/** Far from any point of a wall: where the mean of a peak stands among its places. */
#define CAVUM_OPTIMUM_MEAN_POINT ((cavum_index)-500000000)

/** A place along the wall. */
typedef struct cavum_optimum_place {
  double below;                            /**< ln of the field there over the peak, <= 0. */
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< Of ln of the field over E_acc, over the range of
                                                each variable. */
  cavum_index point;                       /**< The nearest of the profile; that of a mean over
                                                all places: CAVUM_OPTIMUM_MEAN_POINT. */
  bool at_point;                           /**< It is that point. */
  double spread; /**< Standard deviation of ln of the field over E_acc by the tolerances; NAN: not
                      known place by place. */
} cavum_optimum_place;

/** A field at a point of the profile along the wall, for means over tolerances. */
typedef struct cavum_optimum_wall_point {
  double value;                            /**< Over E_acc: V/m over V/m, T over V/m. */
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< Of ln of it, over the range of each variable. */
  double by[CAVUM_TOLERANCES_MOST];        /**< Change of ln of it by one deviation of each. */
  double spread;                           /**< Standard deviation that these make. */
  cavum_index index;                       /**< Of the profile. */
  bool joined; /**< The next point is as far from this one as others of the same element. */
} cavum_optimum_wall_point;

/** A place along a spline of the wall, as a limit on its curvature or its lean sees it. */
typedef struct cavum_optimum_bend {
  double value; /**< Curvature, positive to the side that is limited, in 1/m; lean in rad. */
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< Over the range of each variable. */
  cavum_index at;                          /**< The nearest of the places that every wall has. */
} cavum_optimum_bend;

/** A figure. */
typedef struct cavum_optimum_value {
  double value, uncertainty; /**< SI; of a peak, of its highest place. */
  double figure;             /**< As the result has it. */
  double margin;             /**< SI: what tolerances add, in the worst case for the worse. */
  double noise;              /**< How much two solves of neighbours may differ in the value. */
  double slope[CAVUM_GOAL_MOST_VARIABLES]; /**< SI, over the range of each variable. */
  bool has_slope;                          /**< False of a peak at two places. */
  int num_places;
  cavum_optimum_place *places; /**< Owned; of peaks. */
  cavum_index num_wall_points; /**< Of the profile that they are on. */
  cavum_index num_points;
  cavum_optimum_wall_point *points; /**< Owned; of peaks whose means are wanted. Not kept with
                                         searches. */
  int num_bends;
  cavum_optimum_bend *bends; /**< Owned; of figures of splines. */
} cavum_optimum_value;

/** A solved shape. Zero-initialise. */
typedef struct cavum_optimum_point {
  double place[CAVUM_GOAL_MOST_VARIABLES]; /**< From 0 to 1 between the bounds. */
  cavum_optimum_value values[CAVUM_GOAL_MOST_QUANTITIES];
} cavum_optimum_point;

/** What solves one of the cells. */
typedef struct cavum_optimum_cell_solving {
  bool used;                   /**< A quantity needs a solve of this cell. */
  cavum_solve_options options; /**< Of each solve. */
  cavum_solver *solver;        /**< Owned. */
  bool whole; /**< Without the mirror plane: a dimension of one side alone moves. */
} cavum_optimum_cell_solving;

/** What solves shapes. Zero-initialise. */
typedef struct cavum_optimum_solving {
  const cavum_goal *goal; /**< Borrowed. */
  cavum_optimum_cell_solving cells[CAVUM_GOAL_MOST_CELLS];
  int num_solves; /**< Of all cells. */
  int num_told;   /**< Of these, those that a watcher knows of. */
  double part;    /**< Of the accuracy that the cells ask for, of each solve. */
  /** What values of peaks are multiplied by to be the figure: what was found at the best point. */
  double factor[CAVUM_GOAL_MOST_QUANTITIES];
} cavum_optimum_solving;

/**
 * Prepares to solve shapes.
 * @param[out] solving  Release with cavum_optimum_solving_clear(), also after a failure.
 * @param[in]  options  NULL: defaults.
 */
cavum_status cavum_optimum_solving_open(cavum_optimum_solving *solving, const cavum_goal *goal,
                                        const cavum_solve_options *options, cavum_error *error);

/** Forgets all shapes that were solved: the next ones depend on none of them. */
void cavum_optimum_solving_forget(cavum_optimum_solving *solving);

/** From now on no solve asks whether to stop: for the few that end a search that was stopped. */
void cavum_optimum_solving_never_stop(cavum_optimum_solving *solving);

/** Frees what it owns. */
void cavum_optimum_solving_clear(cavum_optimum_solving *solving);

/**
 * Solves a shape.
 * @param[out] point  Cleared before; release with cavum_optimum_point_clear(). Untouched unless
 *                    CAVUM_OK.
 * @param[in]  place  Shape [num_variables].
 * @retval CAVUM_ERR_INPUT  a figure that is missing or has no derivative. Else as
 *                          cavum_solver_solve().
 */
cavum_status cavum_optimum_point_solve(cavum_optimum_point *point, cavum_optimum_solving *solving,
                                       const double *place, cavum_error *error);

/** Whether tolerances add to the square of a figure: to the straight wall in the worst case. */
bool cavum_optimum_margin_is_of_square(const cavum_goal *goal, const cavum_goal_quantity *quantity);

/** What tolerances add to a quantity at a place, SI; in the worst case >= 0. */
double cavum_optimum_margin(const cavum_goal *goal, const cavum_goal_quantity *quantity,
                            const double *place);

/** Whether each place of a peak has a spread of its own. */
bool cavum_optimum_has_place_spreads(const cavum_goal_quantity *q, const cavum_optimum_value *v);

/** Whether a quantity is a figure of the shape alone, which takes no solve. */
bool cavum_optimum_is_of_shape(const cavum_goal_quantity *quantity);

/**
 * Figures of the shape alone, in the worst case or their means where tolerances are.
 * @param[out] values  Shape [quantities]: those of the shape are set.
 * @param[in]  place   Shape [num_variables].
 * @retval CAVUM_ERR_GEOMETRY  no shape.
 */
cavum_status cavum_optimum_measure(double *values, const cavum_goal *goal, const double *place,
                                   cavum_error *error);

/**
 * Whether the cells of a place have contours, which takes no solve.
 * @retval CAVUM_ERR_GEOMETRY  and what else says that it is no shape.
 */
cavum_status cavum_optimum_try_contours(const cavum_goal *goal, const double *place,
                                        cavum_error *error);

/**
 * Which piece of a path a search has made about as short as it may be, at a place that it ended at;
 * its key is "" where none is.
 * @retval CAVUM_ERR_GEOMETRY  and what else says that it is no shape.
 */
cavum_status cavum_optimum_find_vanishing(cavum_optimum_piece *piece, const cavum_goal *goal,
                                          const double *place, cavum_error *error);

/** Whether other values of the variables may do where a solve failed with this. */
bool cavum_optimum_is_no_shape(cavum_status status);

/**
 * Copies a point.
 * @param[out] copy  Cleared before; release with cavum_optimum_point_clear(). Untouched unless
 *                   CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_optimum_point_copy(cavum_optimum_point *copy, const cavum_optimum_point *point,
                                      cavum_error *error);

/** Frees what a point owns. */
void cavum_optimum_point_clear(cavum_optimum_point *point);

#endif
