// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/outcome.h
 * What a search came to, as programs see it.
 */
#ifndef CAVUM_OPTIMUM_OUTCOME_H
#define CAVUM_OPTIMUM_OUTCOME_H

#include "optimum/search.h"

/** Whether dimensions could be rounded. */
typedef struct cavum_outcome_rounding {
  bool failed;      /**< No way keeps the limits. */
  double violation; /**< Of the best way then; NAN: none is a shape. */
} cavum_outcome_rounding;

/**
 * Makes the outcome of the best search: cell, figures, limits, variables, path.
 * @param[out] optimum   Owned by the caller; its starts are left out.
 * @param[in]  exact     Ended, with a point: multipliers, bounds, residual and path are its.
 * @param[in]  last      The same, or with dimensions rounded: shape and figures are its.
 * @param[in]  rounding  What came of rounding.
 */
cavum_status cavum_outcome_make(cavum_optimum **optimum, const cavum_search *exact,
                                const cavum_search *last, const cavum_outcome_rounding *rounding,
                                const cavum_solve_options *options, cavum_error *error);

#endif
