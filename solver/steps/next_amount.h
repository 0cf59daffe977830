// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/next_amount.h
 * Amounts that would lead to the target or that were done as measured, and why some cannot be.
 */
#ifndef CAVUM_STEPS_NEXT_AMOUNT_H
#define CAVUM_STEPS_NEXT_AMOUNT_H

#include "steps/chain.h"

/**
 * Fills next_obstacle and found_obstacle of each step that has such an amount: metal the wrong
 * way, more of it than a wall allows, or a shape that cannot be, which is tried on the shape before
 * the step; and next_caution. Nothing is solved.
 * @param[in]     before  Of cavum_steps_go_forward().
 * @param[in,out] result  With its next and found amounts.
 * @param[in]     steps   The chain.
 * @param[out]    error   May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_steps_try_amounts(cavum_steps_result *result, const cavum_cell *before,
                                     const cavum_steps *steps, cavum_error *error);

#endif
