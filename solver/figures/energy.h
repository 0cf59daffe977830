// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file energy.h
 * The two stored energies of a mode.
 */
#ifndef CAVUM_ENERGY_H
#define CAVUM_ENERGY_H

#include "view.h"

/**
 * U_E = (eps0 / 2) int eps_r |E|^2 dV and U_H = (mu0 / 2) int mu_r |H|^2 dV of the whole cell in
 * joules, from the fields at quadrature points. E comes from E_z and E_r as they are reported, not
 * from the matrix of the eigenproblem, so that their equality is a check of the recovered field.
 */
void cavum_energy_measure(double *electric_j, double *magnetic_j, const cavum_view *view);

#endif
