// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_modes.h
 * One line a mode: the figures of a design note, beside one another.
 */
#ifndef CAVUM_CLI_TABLE_MODES_H
#define CAVUM_CLI_TABLE_MODES_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/solve.h"

/**
 * Prints heads, units and one line a mode: label, f, R/Q, G, E_pk/E_acc, B_pk/E_acc. What no mode
 * has gets no column, what one mode lacks is "-".
 * @param[in] accuracies  Relative, of the frequency and of other figures; 0 for all digits.
 */
void cavum_table_modes_print(FILE *out, const cavum_result *result, const double accuracies[2]);

/** Whether this figure has a column in the line of a mode. */
bool cavum_table_modes_shows(cavum_figure_id id);

#endif
