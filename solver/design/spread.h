// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/spread.h
 * The linear spread alone, and a check of what a spread is written with.
 */
#ifndef CAVUM_DESIGN_SPREAD_H
#define CAVUM_DESIGN_SPREAD_H

#include "cavum/tolerance.h"

/**
 * Checks bands of a caller.
 * @param[in]  bands  Shape [count].
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  of no figure, or not above 0.
 */
cavum_status cavum_spread_bands_check(const cavum_spread_band *bands, int count,
                                      cavum_error *error);

/** As cavum_spread_make() without a drawn shape, at the cost of one solve: whether the linear
 * spread holds is not known. */
cavum_status cavum_spread_make_linear(cavum_spread **spread, const cavum_cell *cell,
                                      const cavum_tolerances *tolerances,
                                      const cavum_spread_options *choices,
                                      const cavum_solve_options *options, cavum_error *error);

#endif
