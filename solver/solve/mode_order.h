// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_order.h
 * The order of modes of both symmetries that are nearly degenerate.
 */
#ifndef CAVUM_SOLVE_MODE_ORDER_H
#define CAVUM_SOLVE_MODE_ORDER_H

#include "solve/problem_memory.h"

/**
 * Settles which modes are the lowest. Modes of the two classes that are nearly degenerate may have
 * been taken in the wrong order: those close behind are asked for too, and the lowest are kept,
 * unless that spoils the accuracy or fails.
 * @param[in,out] result     Replaced where that helps; its times become those of both.
 * @param[in]     num_close  Modes close behind the last one.
 * @param[in,out] memory     Of this problem.
 */
void cavum_mode_order_settle(cavum_result **result, int num_close, cavum_problem_memory *memory,
                             const cavum_cell *cell, const cavum_solve_options *options,
                             bool half_model);

#endif
