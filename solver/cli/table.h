// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table.h
 * A result as a table for people.
 */
#ifndef CAVUM_CLI_TABLE_H
#define CAVUM_CLI_TABLE_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/solve.h"

/**
 * Prints what was solved and how, one block of figures a mode, coupling, warnings and, unless
 * brief, the definition of every figure that appears. Plain ASCII apart from texts of the input.
 *
 * @param[in] out     Open stream; write errors are left in it.
 * @param[in] result  Solved result.
 * @param[in] cell    The cell it came from: the accuracy asked for.
 * @param[in] brief   Leave the definitions out.
 */
void cavum_table_print(FILE *out, const cavum_result *result, const cavum_cell *cell, bool brief);

#endif
