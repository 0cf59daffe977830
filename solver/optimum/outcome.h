// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/outcome.h
 * What a search came to, as programs see it.
 */
#ifndef CAVUM_OPTIMUM_OUTCOME_H
#define CAVUM_OPTIMUM_OUTCOME_H

#include "optimum/search.h"

/**
 * Makes the outcome of the best search: cell, figures, limits, variables, path.
 * @param[out] optimum  Owned by the caller; its starts are left out.
 * @param[in]  exact    Ended, with a point: multipliers, bounds, residual and path are its.
 * @param[in]  last     The same, or with dimensions rounded: shape and figures are its.
 */
cavum_status cavum_outcome_make(cavum_optimum **optimum, const cavum_search *exact,
                                const cavum_search *last, const cavum_solve_options *options,
                                cavum_error *error);

#endif
