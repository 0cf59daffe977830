// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/wall_adjoints.h
 * Densities along the wall of figures that need an adjoint field: G and R/Q.
 */
#ifndef CAVUM_SOLVE_WALL_ADJOINTS_H
#define CAVUM_SOLVE_WALL_ADJOINTS_H

#include "solve/mode_functionals.h"

/**
 * Adds the densities of G and R/Q to those of a mode.
 *
 * The change of J(x, k, shape) is that of mode_functionals.h. When the wall moves and functions of
 * the place stay, the forms change by their integrands at the wall [Slater1950 for u = x]; so does
 * oint H^2 dS, and the voltage on the axis not at all. Its adjoint field is that of a current along
 * the axis, smooth at the wall.
 *
 * Where another mode is too close for the adjoint solves nothing is added. Peaks have no density:
 * their adjoint fields are unbounded at the peak.
 * @param[in,out] density  Of the highest degree of the solution.
 * @param[in]     input    below = 0; its adjoints are not used.
 * @param[in]     values   Figures of the mode there.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_wall_adjoints_add(cavum_wall_density *density,
                                     const cavum_mode_functionals_input *input,
                                     const cavum_mode_values *values, cavum_error *error);

#endif
