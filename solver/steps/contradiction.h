// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file steps/contradiction.h
 * What a chain says of its measured frequencies as a whole.
 */
#ifndef CAVUM_STEPS_CONTRADICTION_H
#define CAVUM_STEPS_CONTRADICTION_H

#include "steps/chain.h"

/**
 * Fills chi-square, its probability, and the sentence about measurements that contradict each
 * other, of which it names the one that fits the others least.
 * @param[in,out] result         Forwards, with its sources and measurements.
 * @param[in]     drawing_stated The uncertainty of the drawing is stated, and a source.
 * @param[out]    error          May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_steps_compare_measured(cavum_steps_result *result, bool drawing_stated,
                                          cavum_error *error);

#endif
