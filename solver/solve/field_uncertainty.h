// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/field_uncertainty.h
 * How uncertain the field of a mode is inside the elements.
 */
#ifndef CAVUM_SOLVE_FIELD_UNCERTAINTY_H
#define CAVUM_SOLVE_FIELD_UNCERTAINTY_H

#include "solve/problem.h"

/**
 * Fills the uncertainties of H_phi and E in each element, from what both were at the degrees of the
 * last solutions: the largest change in the element and how it falls give the rest that higher
 * degrees would add. Infinite where there is one degree alone, and E in elements that touch a
 * corner where it has no limit.
 * @param[in,out] mode  Gets field_h_uncertainty_a_per_m and field_e_uncertainty_v_per_m.
 * @param[in]     m     Its number in the last solution of the problem's ladder.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_field_uncertainty_fill(cavum_mode_result *mode, const cavum_problem *problem,
                                          int m, cavum_error *error);

#endif
