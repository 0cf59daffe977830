// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/outcome.h
 * What a search came to, as programs see it.
 */
#ifndef CAVUM_OPTIMUM_OUTCOME_H
#define CAVUM_OPTIMUM_OUTCOME_H

#include "optimum/search.h"

/** What became of what follows the searches. */
typedef struct cavum_outcome_notes {
  bool not_rounded;            /**< No way to round keeps the limits, or it was stopped before. */
  double rounding_violation;   /**< Of the best way then; NAN: none is a shape. */
  const char *rounding_broken; /**< Which limit that breaks; borrowed. */
  const char *nominal_broken;  /**< And the nominal best shape within tolerances; borrowed. */
  bool stopped;                /**< The program asked to stop before all had ended. */
} cavum_outcome_notes;

/**
 * Makes the outcome of the best search: cell, figures, limits, variables, path.
 * @param[out] optimum   Owned by the caller; its starts are left out.
 * @param[in]  exact     Ended, with a point: multipliers, bounds, residual and path are its.
 * @param[in]  last      The same, or with dimensions rounded: shape and figures are its.
 * @param[in]  notes     What became of rounding, and whether it was stopped.
 */
cavum_status cavum_outcome_make(cavum_optimum **optimum, const cavum_search *exact,
                                const cavum_search *last, const cavum_outcome_notes *notes,
                                const cavum_solve_options *options, cavum_error *error);

/**
 * The limit of a figure that is active: 1 the most, -1 the least, 0 none. A multiplier below the
 * tolerance of the first-order conditions cannot be told from 0: alone it makes no limit active
 * that the figure is away from. None makes a limit active that the figure is far away from.
 * @param[in] least, most  Multipliers of both limits, of relative changes.
 * @param[in] room         From the figure to the limit with the larger one, relative.
 */
int cavum_outcome_side(double least, double most, double room, double tolerance);

#endif
