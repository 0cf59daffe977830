// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/derivative_fill.h
 * The derivatives of a mode in a result, with their uncertainties.
 */
#ifndef CAVUM_SOLVE_DERIVATIVE_FILL_H
#define CAVUM_SOLVE_DERIVATIVE_FILL_H

#include "solve/derivative_values.h"

/**
 * Fills the derivatives of all figures that a mode has.
 * @param[in,out] problem  Its result has room for them.
 * @param[in]     mode     Counted from 0.
 * @param[in]     reason   Why there are none at all, static; NULL: there are some.
 */
void cavum_derivative_fill(const cavum_problem *problem, int mode,
                           const cavum_derivative_values *values, const char *reason);

#endif
