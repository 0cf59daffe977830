// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_steps.h
 * A chain of steps as the table that hangs at the bench.
 */
#ifndef CAVUM_CLI_TABLE_STEPS_H
#define CAVUM_CLI_TABLE_STEPS_H

#include <stdio.h>

#include "cavum/steps.h"

/** Prints a chain. */
void cavum_table_steps_print(FILE *out, const cavum_steps_result *result);

#endif
