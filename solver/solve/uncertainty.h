// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/uncertainty.h
 * The numerical uncertainty of a number from its values at rising degrees.
 */
#ifndef CAVUM_SOLVE_UNCERTAINTY_H
#define CAVUM_SOLVE_UNCERTAINTY_H

#include "cavum/figures.h"

/** Most values that an estimate looks back at. */
enum { CAVUM_HISTORY_MOST = 24 };

/** Values of one number at rising degrees, oldest first. */
typedef struct cavum_history {
  int count;
  double value[CAVUM_HISTORY_MOST];
  double change[CAVUM_HISTORY_MOST]; /**< From the value before, at least; 0 for the first. */
  double iteration_error[CAVUM_HISTORY_MOST]; /**< Error that the iteration left in the value. */
} cavum_history;

/**
 * Adds a value; when full, the oldest is dropped.
 * @param[in] spread  A bound of the change from the value before that is not small by luck, or 0:
 *                    the change counts as this much at least.
 * @param[in] iteration_error    Error that the iteration left in the value: changes within that of
 * both values count as it where their ratio is taken.
 */
void cavum_history_add(cavum_history *history, double value, double spread, double iteration_error);

/** How the error of a number falls with the degree. */
typedef enum cavum_convergence {
  CAVUM_CONVERGENCE_STEADY, /**< Eigenvalues and integrals of energy: monotone, one ratio. */
  /** The same behind corners that mesh layers are graded towards: some degrees add little. */
  CAVUM_CONVERGENCE_STEADY_BEHIND_CORNERS,
  CAVUM_CONVERGENCE_SIGNED, /**< Voltages: the error changes its sign and is small by luck. */
  CAVUM_CONVERGENCE_UNEVEN, /**< Point values: uneven where the curvature of the wall jumps. */
  CAVUM_CONVERGENCE_SPREAD  /**< The same with a spread as the change. */
} cavum_convergence;

/**
 * Uncertainty of the last value: what the remaining terms of the sequence can still add.
 *
 * With differences d_n = |q_n - q_{n-1}| and their ratio x, the tail of a sequence that goes on
 * falling by x is d_n x / (1 - x). x is the larger of the last two ratios, not below a least ratio
 * and at most 0.95 (an algebraic tail at degree 16); a difference below a given part of the one
 * before, or below the square of that part of the one before that, counts as that part, so that one
 * lucky small difference does not pass for convergence. Of spread numbers, which may swing about
 * their limit, the last five differences count, damped, where a swing shows in them. The result is
 * a multiple of the tail and not less than the rounding floor. The three constants of each kind
 * were found on 150 random two-ellipse and 30 random path cells against degree 12 on meshes of half
 * the size. On other 2,000 cells with five modes each, against four degrees more on a finer mesh, 2
 * of 179,568 figures lay outside; those whose error was above rounding had 8 times that as their
 * uncertainty in the median.
 *
 * @param[in] history         Three values or more give a tail; with two the difference, or infinity
 *                            for a single value, is returned.
 * @param[in] convergence     What the number is like.
 * @param[in] floor_relative  Rounding floor relative to the value.
 */
double cavum_uncertainty_of_last(const cavum_history *history, cavum_convergence convergence,
                                 double floor_relative);

/**
 * What the degrees to come still add to a sequence that falls as p^(-power), as at corners that are
 * not graded finely enough [BabuskaGuo1986]: with e_p = C p^-s, the last change d is about
 * s C p^(-s - 1) and e_p about d p / s. Of a change over the one before of x, the part
 * (1 - g / x) / (1 - g) belongs to the algebraic sequence, where another one falls by g a degree.
 *
 * @param[in] history      As above; the larger of the last two ratios and lucky changes as there.
 * @param[in] convergence  What the number is like.
 * @param[in] power        s.
 * @param[in] degree       p of the last value.
 * @return 0 with fewer than three values.
 */
double cavum_uncertainty_algebraic(const cavum_history *history, cavum_convergence convergence,
                                   double power, int degree);

/** The same where the last change may belong to the algebraic sequence as a whole. */
double cavum_uncertainty_all_algebraic(const cavum_history *history, cavum_convergence convergence,
                                       double power, int degree);

/**
 * The same on a mesh that is not graded towards the corners. Changes are sums there, of several
 * corners and of what is smooth, in which no part is small; where their signs differ a sum is small
 * at some degree, and for some degrees before and after, by luck. But what a corner does to a
 * change becomes smaller by its power alone, so the largest of the last three counts, carried on by
 * the power. And where steps, carried on like that, go one way they go on to where nothing but the
 * corner is left, which [Aitken1926] tells from the last three.
 * @param[in] degree          What the power is of: p of the last value, or more.
 * @param[in] floor_relative  Steps below do not tell where they go.
 */
double cavum_uncertainty_ungraded(const cavum_history *history, double power, double degree,
                                  double floor_relative);

/**
 * What the uncertainty would about have been one degree lower: the change before the last one with
 * the ratio of today; infinite while there are fewer than three values.
 */
double cavum_uncertainty_one_less(const cavum_history *history, cavum_convergence convergence,
                                  double floor_relative);

/** The ratio x of that estimate, from 0.05 up; 0.95 while there are fewer than three values. */
double cavum_uncertainty_ratio(const cavum_history *history);

#endif
