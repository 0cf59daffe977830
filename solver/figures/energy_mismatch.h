// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/energy_mismatch.h
 * The two stored energies of a mode.
 */
#ifndef CAVUM_FIGURES_ENERGY_MISMATCH_H
#define CAVUM_FIGURES_ENERGY_MISMATCH_H

#include "fem/apply.h"
#include "figures/view.h"

/**
 * |U_E - U_H| / U_H of modes, with U_E = (eps0 / 2) int eps_r |E|^2 dV and U_H = (mu0 / 2) int mu_r
 * |H|^2 dV from the fields at quadrature points. E comes from E_z and E_r as they are reported, not
 * from the matrix of the eigenproblem, so that their equality is a check of the recovered field.
 * @param[out] mismatch  Shape [count].
 * @param[in]  views     Shape [count], of one discretisation.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_energy_mismatch(double *mismatch, const cavum_view *views, int count,
                                   cavum_error *error);

/** The same of one mode, from the sums behind its energies. */
double cavum_energy_mismatch_of(const cavum_energy_sums *sums, double angular_frequency);

#endif
