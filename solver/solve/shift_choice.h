// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/shift_choice.h
 * The shift of a factorisation for modes that are known roughly.
 */
#ifndef CAVUM_SOLVE_SHIFT_CHOICE_H
#define CAVUM_SOLVE_SHIFT_CHOICE_H

#include "solve/solution.h"

/**
 * The shift for improving the modes of all classes together, per m^2: amid those that are wanted,
 * so that the lowest and the highest converge alike, in a gap that is wide enough. That of a rough
 * start lies above them, as far as others leave room: its factorisation may then count them.
 * @param[in] guess  Shape [CAVUM_CLASSES]; at least as many modes as are wanted of each.
 */
double cavum_shift_choose(const cavum_modes *guess, const cavum_solution_request *input);

/**
 * A shift for projections, per m^2: in the widest gap between the modes that were found near a
 * frequency, which may be that of a mode.
 */
double cavum_shift_choose_between(const cavum_modes *modes);

#endif
