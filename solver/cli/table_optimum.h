// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_optimum.h
 * What a search for the best shape came to, as tables for people.
 */
#ifndef CAVUM_CLI_TABLE_OPTIMUM_H
#define CAVUM_CLI_TABLE_OPTIMUM_H

#include <stdio.h>

#include "cavum/optimum.h"

/**
 * Prints how it ended, the dimensions and figures before and after, the limits with what they cost,
 * and the starts.
 * @param[in] out      Open stream; write errors are left in it.
 * @param[in] optimum  Of a search.
 * @param[in] title    Of the goal.
 */
void cavum_table_optimum_print(FILE *out, const cavum_optimum *optimum, const char *title);

#endif
