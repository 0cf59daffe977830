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
 * the axis: smooth at the wall but where that current ends on metal. There E goes as 1/r, which no
 * polynomial follows: the density of R/Q, which has no limit at the axis, swings about it on the
 * edge of the mesh with an end there, and sums over the points alone are good. Its uncertainty is
 * infinite on such an edge; elsewhere it is made of the change of the density from the degree
 * below, the largest on the edge.
 *
 * Where another mode is too close for the adjoint solves nothing is added. Peaks have no density:
 * their adjoint fields are unbounded at the peak.
 * @param[in,out] to      Its density is of the highest degree of the solution.
 * @param[in]     input   below = 0; its adjoints are not used.
 * @param[in]     lower   The same mode at the degree below; NULL: there is none, and uncertainties
 *                        are infinite.
 * @param[in]     values  Figures of the mode there.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_wall_adjoints_add(cavum_mode_result *to,
                                     const cavum_mode_functionals_input *input,
                                     const cavum_mode_functionals_input *lower,
                                     const cavum_mode_values *values, cavum_error *error);

#endif
