// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/derivative_rates.h
 * From the derivatives of what the figures of a mode are made of to those of the figures.
 */
#ifndef CAVUM_SOLVE_DERIVATIVE_RATES_H
#define CAVUM_SOLVE_DERIVATIVE_RATES_H

#include "solve/derivative_values.h"

/**
 * Adds the derivatives at one degree, with what the solves leave in them.
 * @param[in,out] values       Of the mode; degrees come by rising degree.
 * @param[in]     problem      Whose solution it is.
 * @param[in]     below        The degree, below the highest one.
 * @param[in]     functionals  Of the mode there.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_derivative_rates_take(cavum_derivative_values *values,
                                         const cavum_problem *problem,
                                         const cavum_solution *solution, int mode, int below,
                                         const cavum_mode_functionals *functionals,
                                         cavum_error *error);

#endif
