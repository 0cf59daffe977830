// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/shape_step.h
 * What a step does to a shape: geometry alone.
 */
#ifndef CAVUM_STEPS_SHAPE_STEP_H
#define CAVUM_STEPS_SHAPE_STEP_H

#include "cell/file_moved.h"
#include "steps/chain.h"

/**
 * What a step does to a shape.
 * @param[out] move      Of this amount.
 * @param[in]  amount_m  In place of that of the step.
 * @return false where it leaves the shape alone.
 */
bool cavum_shape_step_move(cavum_cell_move *move, const cavum_chain_step *step, double amount_m);

/**
 * Takes a shape through a step by an amount. Steps that leave the shape alone do nothing; a cooling
 * scales.
 * @param[in,out] shape     A path; unchanged unless CAVUM_OK.
 * @param[in]     step      What is done.
 * @param[in]     amount_m  In place of that of the step; of no account for one that has none.
 * @param[out]    error     May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a step that cannot be; the message has the place.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_shape_take_step(cavum_cell *shape, const cavum_chain_step *step, double amount_m,
                                   cavum_error *error);

/**
 * The shape as it is drawn, with the straight allowances of a chain.
 * @param[out] shape  Owned by the caller (cavum_cell_clear()); untouched unless CAVUM_OK.
 * @param[in]  steps  The chain.
 * @param[out] error  May be NULL.
 * @return as cavum_shape_start() and cavum_shape_take_step().
 */
cavum_status cavum_shape_draw(cavum_cell *shape, const cavum_steps *steps, cavum_error *error);

/** A copy of a shape; untouched unless CAVUM_OK. */
cavum_status cavum_shape_copy(cavum_cell *copy, const cavum_cell *shape, cavum_error *error);

/** Angle between the wall and its mirror image where the step joined or ended it, in radians: 0
 * where the wall goes on smoothly. */
double cavum_shape_edge_rad(const cavum_cell *shape, const cavum_chain_step *step);

#endif
