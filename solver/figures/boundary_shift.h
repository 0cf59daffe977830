// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/boundary_shift.h
 * How much a frequency changes when a wall or an interface between materials moves.
 */
#ifndef CAVUM_FIGURES_BOUNDARY_SHIFT_H
#define CAVUM_FIGURES_BOUNDARY_SHIFT_H

#include "element/curve_guess.h"
#include "figures/view.h"

/**
 * Sum over the edges of a mesh of abs(relative change of the frequency) when each one moves to the
 * curve that is guessed behind it, to first order.
 *
 * A boundary that moves outwards by d changes the frequency by
 *
 *     d w / w = -(1 / 4 U) int d ([eps] E_t^2 - [1 / eps] D_n^2 + [mu] H^2) dS,
 *
 * peak phasors, U the stored energy, [] what is inside minus what is outside, which is nothing
 * behind a wall [Slater1950], for materials [Johnson2002]. The parts of edges where changes of the
 * frequency cancel do not cancel changes of other figures, nor what the guess is wrong by.
 *
 * @param[in] view   The mode.
 * @param[in] guess  Of the mesh of the view.
 */
double cavum_boundary_shift_sum(const cavum_view *view, const cavum_curve_guess *guess);

#endif
