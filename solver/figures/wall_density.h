// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/wall_density.h
 * What metal removed from the wall does to a mode, as a density along the wall.
 */
#ifndef CAVUM_FIGURES_WALL_DENSITY_H
#define CAVUM_FIGURES_WALL_DENSITY_H

#include "fem/form_gradient.h"
#include "figures/view.h"

/**
 * Places, areas, radiation pressure and density of the frequency along the metal of the whole cell;
 * half models are mirrored.
 *
 * A wall that is taken back by d changes the frequency by
 *
 *     d f / f = -(1 / 4 U) int d (mu H^2 - eps E^2) dS,
 *
 * peak phasors, U the stored energy [Slater1950].
 * @param[out] density  Zeroed before; what it owns is released by its owner, also after a failure.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_density_fill(cavum_wall_density *density, const cavum_view *view,
                                     cavum_error *error);

/**
 * The change of K(u, x) - M(v, x), v = mass_u u + mass_x x, for fixed functions of the place when
 * the wall is taken back: their integrand there, as a density of the whole cell's wall,
 *
 *     (eps_r (w eps0)^2 E_u E_x - mu_r (mass_u H_u + mass_x H_x) H_x) / 2 pi,
 *
 * x as the vector of the view, unscaled.
 * @param[out] values  Shape [num_points] of the density of the same view.
 */
void cavum_wall_density_of_form(double *values, const cavum_view *view, const cavum_form *form);

/**
 * The change of oint H^2 dS for a fixed field when the wall is taken back, as a density: with the
 * curvature c of the wall in the section (positive where the cell is convex) and the outward normal
 * n, H^2 (c + n_r / r) by the area and -2 H^2 n_r / r by the field, whose r H has no normal
 * derivative at a wall: H^2 (c - n_r / r). Corners between walls add to the change of the integral
 * what is no density.
 * @param[out] values  Shape [num_points] of the density of the same view, at one joule.
 */
void cavum_wall_density_of_loss(double *values, const cavum_view *view);

#endif
