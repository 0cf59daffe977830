// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/rows.h
 * A point as an objective, limits and rows of a subproblem.
 *
 * The objective is sum_i weight_i ln(figure_i). A limit is ln(figure / most) <= 0 or
 * ln(least / figure) <= 0; of what may change its sign, the difference over the size of the limit;
 * of the straight wall, half the difference of the squares over that of the limit. Its square has
 * the sign of its value, which is below 0 in a worst case without a straight wall.
 */
#ifndef CAVUM_OPTIMUM_ROWS_H
#define CAVUM_OPTIMUM_ROWS_H

#include "optimum/model.h"
#include "optimum/point.h"

/** Limits are met to this part of the accuracy asked for. */
#define CAVUM_ROWS_MET 0.1

/** What a row of a subproblem stands for. */
typedef struct cavum_row_origin {
  int quantity;
  int place;   /**< Of a peak; -1: the figure itself. */
  double sign; /**< 1: at the most, or of the objective; -1: at the least. */
} cavum_row_origin;

/** Rows with what they stand for. */
typedef struct cavum_rows {
  cavum_row_origin origin[CAVUM_MODEL_MOST_ROWS];
} cavum_rows;

/** Whether a term of the objective is a peak that is to be small: it has a bound of its own. */
bool cavum_rows_is_bound(const cavum_goal *goal, const cavum_optimum_point *point, int quantity);

/** ln of the product that is to be least. */
double cavum_rows_objective(const cavum_goal *goal, const cavum_optimum_point *point);

/** Its numerical uncertainty. */
double cavum_rows_objective_uncertainty(const cavum_goal *goal, const cavum_optimum_point *point);

/** By how much two solves of neighbours may differ in it. */
double cavum_rows_objective_noise(const cavum_goal *goal, const cavum_optimum_point *point);

/** The same of the largest excess of a limit. */
double cavum_rows_limit_noise(const cavum_goal *goal, const cavum_optimum_point *point);

/** How much a value breaks a side of its limit, as above; below 0: it does not. */
double cavum_rows_excess(const cavum_goal_quantity *quantity, double value, double sign);

/**
 * Whether a figure is so far within its limit, relative, that this decides nothing: by more than
 * the root of the tolerance of the first-order conditions. Of the product of multiplier and room,
 * which these keep below the tolerance, the multiplier is then the smaller one.
 */
bool cavum_rows_is_far(double room, double tolerance);

/** Bound of a side in SI; infinite: none. */
double cavum_rows_limit(const cavum_goal_quantity *quantity, double sign);

/** Derivative of that by the value. */
double cavum_rows_scale(const cavum_goal_quantity *quantity, double value, double sign);

/** The largest excess of all limits, at least 0. */
double cavum_rows_violation(const cavum_goal *goal, const cavum_optimum_point *point);

/** The same over the accuracy asked for of each figure. */
double cavum_rows_violation_in_accuracies(const cavum_goal *goal, const cavum_optimum_point *point);

/** Whether a limit is a frequency that is held: an equality. */
bool cavum_rows_is_held_frequency(const cavum_goal_quantity *quantity);

/** By how many of their accuracies the frequencies that are held are off; 0 without one. */
double cavum_rows_off_frequency(const cavum_goal *goal, const cavum_optimum_point *point);

/** Whether every limit is met to what a search asks for. */
bool cavum_rows_are_met(const cavum_goal *goal, const cavum_optimum_point *point);

/** The limit that is farthest from that: "wall_angle_deg is met to 4.6e-06 (1e-08 is asked for)",
 * relative; "" where all are. */
void cavum_rows_tell_unmet(char *text, size_t size, const cavum_goal *goal,
                           const cavum_optimum_point *point);

/** How far a quantity is beyond its limit, SI; 0: it is not, or by less than its accuracy. */
double cavum_rows_broken_by(const cavum_goal *goal, const cavum_optimum_point *point, int quantity);

/**
 * Which limits a point breaks, a frequency that is held first, then by falling relative miss:
 * "wall_angle_deg = 4.2 degree breaks the limit of at least 5 degree by 0.8 degree (16 %), then
 * epk_over_eacc by 0.1 (5 %), and 1 more"; "" where all hold to their accuracy.
 */
void cavum_rows_tell_broken(char text[CAVUM_OPTIMUM_BROKEN_SIZE], const cavum_goal *goal,
                            const cavum_optimum_point *point);

/** Fills gradient, weights and rows of a model; bounds, curvature and penalty are left. */
void cavum_rows_fill(cavum_model *model, cavum_rows *rows, const cavum_goal *goal,
                     const cavum_optimum_point *point);

/**
 * Derivatives of the Lagrange function.
 * @param[out] slope       Shape [num_variables].
 * @param[in]  rows        Of the point that the multipliers belong to.
 * @param[in]  multiplier  Shape [rows of the model].
 * @param[in]  num_rows    Of the model.
 * @param[in]  of          That point.
 * @param[in]  at          The point whose derivatives are wanted.
 */
void cavum_rows_lagrange(double *slope, const cavum_rows *rows, const double *multiplier,
                         int num_rows, const cavum_goal *goal, const cavum_optimum_point *of,
                         const cavum_optimum_point *at);

#endif
