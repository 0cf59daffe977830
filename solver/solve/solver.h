// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/solver.h
 * What a solver of the library can do besides.
 */
#ifndef CAVUM_SOLVE_SOLVER_H
#define CAVUM_SOLVE_SOLVER_H

#include "cavum/solver.h"

/**
 * Has a solver whose options give a degree solve at that degree alone: half the work, and no figure
 * has an uncertainty. For many neighbours of a cell whose own uncertainties are known.
 */
void cavum_solver_use_one_degree(cavum_solver *solver);

/**
 * Has a solver whose options ask for profiles give the densities along the wall alone: no fields
 * along axis and wall with their uncertainties, no R/Q against the particle speed.
 */
void cavum_solver_use_densities_alone(cavum_solver *solver);

#endif
