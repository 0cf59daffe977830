// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/functional_wall.h
 * Functionals of the field on the wall.
 */
#ifndef CAVUM_FIGURES_FUNCTIONAL_WALL_H
#define CAVUM_FIGURES_FUNCTIONAL_WALL_H

#include "figures/functional.h"

/** oint |H|^2 dS over the metal, as cavum_surface_measure(). */
void cavum_functional_add_loss(cavum_functional *functional, const cavum_view *view,
                               const cavum_wall_traces *traces);

/** |E| or |H| at a fixed place of a metal edge. */
void cavum_functional_add_field(cavum_functional *functional, const cavum_view *view,
                                cavum_boundary_edge edge, double s, bool electric);

#endif
