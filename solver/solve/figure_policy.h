// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/figure_policy.h
 * What each figure is like: one row a figure decides how its uncertainty is made, which cells have
 * it and which value is the better one.
 */
#ifndef CAVUM_SOLVE_FIGURE_POLICY_H
#define CAVUM_SOLVE_FIGURE_POLICY_H

#include "figures/mode_figures.h"
#include "solve/uncertainty.h"

/** An integral along the axis below this part of int |E_z| dz is none. */
#define CAVUM_ZERO_RATIO 1e-6

/** What the error of a mode's vector does to a figure. */
typedef enum cavum_vector_effect {
  CAVUM_VECTOR_SECOND_ORDER, /**< Nothing to first order: an eigenvalue. */
  CAVUM_VECTOR_ENERGY,       /**< As to an energy or a loss integral, which do not cancel. */
  CAVUM_VECTOR_VOLTAGE,      /**< As to the voltage, magnified as much as that cancels. */
  CAVUM_VECTOR_BEST_VOLTAGE, /**< The same at the particle speed of the largest voltage. */
  CAVUM_VECTOR_INTEGRAL,     /**< The same, or as the plain integral of E_z cancels, if more. */
  CAVUM_VECTOR_TUBE_END      /**< As to the field at a tube end, which is small. */
} cavum_vector_effect;

/** What must not vanish for a figure to exist. */
typedef enum cavum_figure_needs {
  CAVUM_NEEDS_NO_AXIS_INTEGRAL, /**< Exists for every mode that has such a figure. */
  CAVUM_NEEDS_VOLTAGE,          /**< V. */
  CAVUM_NEEDS_WALL_E,           /**< V and an electric field on metal. */
  CAVUM_NEEDS_INTEGRAL          /**< V and int E_z dz. */
} cavum_figure_needs;

/** How a figure takes part in a solve. */
typedef enum cavum_figure_role {
  CAVUM_ROLE_REQUIRED, /**< Degrees rise until it is as accurate as asked. */
  CAVUM_ROLE_EXEMPT,   /**< Carries its uncertainty but does not hold up a solve. */
  CAVUM_ROLE_ESTIMATE  /**< Likewise, by a first-order formula: accurate to the next order of the
                            decayed field; it brings what the formula leaves uncertain. */
} cavum_figure_role;

/** What the change of a figure from one degree to the next counts as at least. */
typedef enum cavum_wall_spread {
  CAVUM_SPREAD_NONE,   /**< Nothing more than it is. */
  CAVUM_SPREAD_WALL_E, /**< The spread of |E| / E_acc on the wall, of a figure without a unit. */
  CAVUM_SPREAD_WALL_H  /**< That of mu0 |H| / E_acc, of a figure in T/(V/m). */
} cavum_wall_spread;

/** What a cell must have for its modes to have a figure. */
typedef enum cavum_figure_cell {
  CAVUM_CELL_WITH_ANY,         /**< Nothing in particular. */
  CAVUM_CELL_WITH_STATED_WALL, /**< A wall whose material is stated. */
  CAVUM_CELL_WITH_TUBE         /**< A beam tube at an end. */
} cavum_figure_cell;

/** Which of two values of a figure a designer wants. */
typedef enum cavum_figure_better {
  CAVUM_BETTER_NEITHER, /**< Depends on what the cell is for. */
  CAVUM_BETTER_LARGER,  /**< The larger. */
  CAVUM_BETTER_SMALLER  /**< The smaller: peak fields, losses. */
} cavum_figure_better;

/** Which corners and tips slow the convergence of a figure. */
typedef enum cavum_figure_exponent {
  CAVUM_EXPONENT_CORNER,  /**< Corners alone. */
  CAVUM_EXPONENT_VOLTAGE, /**< Also tips on the axis: a voltage is in it. */
  CAVUM_EXPONENT_AXIS,    /**< Also tips on the axis: the speed of the largest voltage. */
  CAVUM_EXPONENT_OPTIMUM, /**< Also tips on the axis: that voltage is in it. */
  CAVUM_EXPONENT_INTEGRAL /**< Also tips on the axis: the integral of E_z, or of its absolute value,
                               is in it. */
} cavum_figure_exponent;

/** The row of one figure; errors and floors are relative to its value. */
typedef struct cavum_figure_policy {
  cavum_convergence convergence;     /**< How its error falls with the degree. */
  cavum_wall_spread spread;          /**< With CAVUM_CONVERGENCE_SPREAD, and only then. */
  double rounding_floor;             /**< No uncertainty is below this. */
  double constant_error;             /**< That of the physical constants in it. */
  cavum_vector_effect vector_effect; /**< What the error of the mode's vector does to it. */
  cavum_figure_exponent exponent;
  cavum_figure_needs needs;
  cavum_figure_role role;
  cavum_figure_cell of_cell;
  cavum_figure_better better;
} cavum_figure_policy;

/** The row of a figure. */
const cavum_figure_policy *cavum_figure_policy_of(cavum_figure_id id);

/**
 * Relative error of a figure that the error of the vector causes.
 * @param[in] vector_error  Relative, that the iteration left.
 * @param[in] values        Of the same mode: how much its voltage and integral cancel.
 */
double cavum_figure_policy_vector_error(cavum_figure_id id, double vector_error,
                                        const cavum_mode_values *values);

/**
 * How many times less accurate, relative to itself, a figure may be than is asked for, because it
 * is small on its natural scale: 1, or 1e-3 of that scale over the voltage (or integral) in it, if
 * that is more. The scale of a voltage is what it is the sum of, or the voltage at which R/Q is 100
 * ohm, whichever is larger: below 1e-4 ohm the accuracy of R/Q, and of all that is over the same
 * voltage, is that of an R/Q of 1e-4 ohm. Below 1e-18 ohm nothing is asked for.
 * @param[in] values  Of the same mode.
 */
double cavum_figure_policy_relaxation(cavum_figure_id id, const cavum_mode_values *values);

/**
 * Whether nothing is left of a figure that is there: a transit time factor over an integral that is
 * zero within its uncertainty, as far as the uncertainty of the factor tells; the largest R/Q of
 * all speeds, below 1e-4 ohm, within its own, or below 1e-18 ohm, where rounding may be all of it.
 * @param[in] values  Of the same mode, with uncertainties.
 */
bool cavum_figure_policy_is_lost(cavum_figure_id id, const cavum_mode_values *values);

/**
 * The exponent of the corner or tip that slows the convergence of a figure most, at most 2: of all
 * corners, and of the tips on the axis where the figure comes from an integral along the axis.
 */
double cavum_figure_policy_exponent(cavum_figure_id id, const cavum_mode_values *values);

/** Relative error of a voltage, over what it is the sum of, that the error of the vector causes. */
double cavum_figure_policy_voltage_error(double vector_error);

#endif
