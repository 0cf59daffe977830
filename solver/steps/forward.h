// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/forward.h
 * The frequency behind each step from the drawing on, and what each source does to it.
 */
#ifndef CAVUM_STEPS_FORWARD_H
#define CAVUM_STEPS_FORWARD_H

#include "steps/chain.h"

/**
 * Fills the steps and sources of a result: frequencies, changes, sensitivities.
 * @param[out]    before   Shape [num_steps of the chain], each with its defaults: the shape before
 * a step that moves the wall, owned by the caller; others stay.
 * @param[in,out] result   Its steps are there, one for the drawing and one for each of the chain.
 * @param[in]     steps    The chain.
 * @param[in]     options  Of each solve; NULL: defaults.
 * @param[out]    error    May be NULL.
 * @return as cavum_steps_run().
 */
cavum_status cavum_steps_go_forward(cavum_cell *before, cavum_steps_result *result,
                                    const cavum_steps *steps, const cavum_solve_options *options,
                                    cavum_error *error);

#endif
