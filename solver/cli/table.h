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

/** How much of a result the screen has. */
typedef struct cavum_table_choice {
  bool all;         /**< Every figure of each mode, mesh and convergence. */
  bool all_digits;  /**< All digits that mean something, not only those that were asked for. */
  bool definitions; /**< Of the figures that are shown. */
} cavum_table_choice;

/**
 * Prints one line a mode with the figures of a design note, coupling, derivatives and warnings;
 * what else there is on request. Plain ASCII apart from texts of the input, no wider than 80
 * columns unless numbers need more; colours as colour.h has them.
 *
 * @param[in] out     Open stream; write errors are left in it.
 * @param[in] result  Solved result.
 * @param[in] cell    The cell it came from: the accuracy asked for.
 * @param[in] choice  What to print.
 */
void cavum_table_print(FILE *out, const cavum_result *result, const cavum_cell *cell,
                       const cavum_table_choice *choice);

/** Prints name, key and definition of every figure, and the symbols in them. */
void cavum_table_print_figures(FILE *out);

#endif
