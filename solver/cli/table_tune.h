// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_tune.h
 * What a tuning changed, as tables for people.
 */
#ifndef CAVUM_CLI_TABLE_TUNE_H
#define CAVUM_CLI_TABLE_TUNE_H

#include <stdio.h>

#include "cavum/tune.h"

/**
 * Prints what it cost, the dimensions before and after, and all figures of the mode and of the
 * shape before and after with their change in percent; those that were asked for have that beside
 * them.
 * @param[in] out      Open stream; write errors are left in it.
 * @param[in] outcome  Of a tuning.
 * @param[in] plan     What was asked for.
 * @param[in] cell     As it was.
 */
void cavum_table_tune_print(FILE *out, const cavum_tune_outcome *outcome,
                            const cavum_tune_plan *plan, const cavum_cell *cell);

#endif
