// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_history.h
 * What the figures of one mode were at the degrees so far, and the uncertainties that follow.
 */
#ifndef CAVUM_SOLVE_MODE_HISTORY_H
#define CAVUM_SOLVE_MODE_HISTORY_H

#include "figures/mode_figures.h"
#include "solve/uncertainty.h"

/**
 * Corners of exponents below leave so much of an algebraic tail that vectors are made more accurate
 * for it, and that derivatives have theirs: at the right-angled re-entrant corner, 2/3, graded
 * elements keep it below 1e-8 of the figure.
 */
#define CAVUM_STRONG_EXPONENT 0.66

/** Histories of all numbers of one mode. */
typedef struct cavum_mode_history {
  cavum_history figures[CAVUM_NUM_FIGURES];
  cavum_history voltage_of_beta[CAVUM_BETA_POINTS];
  cavum_history integral_over_abs, voltage_over_abs; /**< Of cavum_mode_values. */
  cavum_history wall_e_over_h;                       /**< Likewise. */
  cavum_wall_samples *samples; /**< Owned: fields along the metal at the last degree, or NULL. */
  double eacc_v_per_m;         /**< Gradient at one joule at the last degree. */
} cavum_mode_history;

/** One mode at one degree. */
typedef struct cavum_mode_at_degree {
  cavum_mode_values *values;   /**< Borrowed: figures get their uncertainties, or become absent. */
  cavum_wall_samples *samples; /**< Fields along the metal; the history owns them from then on. */
  const cavum_mesh_boundary *boundary; /**< Borrowed: its metal edges. */
  int degree;                          /**< Of its polynomials. */
  double vector_error;                 /**< Relative, that the iteration left. */
  double quadrature_error;             /**< Relative, cavum_discretisation_quadrature_error(). */
  double unfelt; /**< Part of the energy, by a thin conductor: not felt, or rounded. */
  bool ungraded; /**< The mesh is that of a file: nobody graded it towards corners. */
  bool curves;   /**< Also the R/Q curve over beta. */
} cavum_mode_at_degree;

/**
 * What the degrees to come can still change of a number: the tail of its sequence, not less than
 * rounding, and where a corner or a tip is re-entrant not less than the algebraic tail that its
 * exponent makes (figures/sharp_corner.h), for that part of the change which is not geometric.
 * Corners of exponents between 1 and 2 have two layers of elements only (mesher/grade.h), so that
 * their tail, which is small, stands behind changes that still fall fast: the last change may be
 * all theirs.
 * @param[in] exponent  The weakest that counts for the number; CAVUM_SMOOTH_EXPONENT without any.
 * @param[in] degree    Of the last value.
 */
double cavum_mode_history_tail(const cavum_history *history, cavum_convergence convergence,
                               double rounding_floor, double exponent, int degree);

/**
 * What counts besides on the mesh of a file, of any number but a frequency, which falls with one
 * sign at all corners; 0 where no corner is sharp.
 * @param[in] at_tip  The exponent is that of a point on the axis.
 */
double cavum_mode_history_ungraded(const cavum_history *history, double rounding_floor,
                                   double exponent, bool at_tip, int degree);

/**
 * The same of a derivative by the shape, which falls with the degree as the number itself. The
 * exponent of a corner changes with the shape as well: of C p^-s there is a part ln(p) p^-s, of
 * which the last change shows only 1 - 1 / (s ln p) of what is still to come.
 */
double cavum_mode_history_tail_of_derivative(const cavum_history *history, double exponent,
                                             int degree);

/**
 * Adds one mode at the next degree. Figures that divide by a voltage or an integral that vanishes,
 * as far as the degrees so far can tell, do not exist: they become absent.
 */
void cavum_mode_history_add(cavum_mode_history *history, const cavum_mode_at_degree *mode,
                            const cavum_cell *cell);

/** Makes figures of which nothing is left absent (cavum_figure_policy_is_lost()). */
void cavum_mode_history_drop_lost(cavum_mode_values *values);

/**
 * Spread of a peak of one mode against the last degree of its history, in the unit of the figure:
 * the largest difference of the surface field wherever it is close to its peak. 0 of other figures.
 * @param[in] samples  Fields along the metal, shape [boundary->num_metal], at one joule.
 */
double cavum_mode_history_spread(const cavum_mode_history *history,
                                 const cavum_wall_samples *samples, double eacc_v_per_m,
                                 const cavum_mesh_boundary *boundary, cavum_figure_id id);

/** Frees what it owns. */
void cavum_mode_history_clear(cavum_mode_history *history);

#endif
