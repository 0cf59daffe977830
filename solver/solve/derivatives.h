// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/derivatives.h
 * Derivatives of the figures by the dimensions of the cell.
 */
#ifndef CAVUM_SOLVE_DERIVATIVES_H
#define CAVUM_SOLVE_DERIVATIVES_H

#include "solve/problem.h"

/**
 * Fills the dimensions of the result and the derivatives of its modes, from the solution that the
 * ladder ended with, at its degree and those below it.
 *
 * The mesh moves with the contour. A figure is differentiated once by all positions of the mesh,
 * which the numbers of the curves sum up (element/mesh_gradient.h); each dimension then costs one
 * product with the rates of the curves (cell/dimension.h). Nothing is differenced.
 *
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_derivatives_add(cavum_problem *problem, cavum_error *error);

#endif
