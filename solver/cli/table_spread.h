// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_spread.h
 * A spread by tolerances as tables for people.
 */
#ifndef CAVUM_CLI_TABLE_SPREAD_H
#define CAVUM_CLI_TABLE_SPREAD_H

#include <stdio.h>

#include "cavum/tolerance.h"

/**
 * Prints the spread of each figure, linear and sampled; the parts of the dimensions in the
 * variance, those first that do most to the frequency; and for each band the tolerances that keep
 * it.
 * @param[in] out     Open stream; write errors are left in it.
 * @param[in] title   Of the cell; may be empty.
 * @param[in] spread  Of cavum_spread_make().
 * @param[in] bands   Shape [num_bands].
 */
void cavum_table_spread_print(FILE *out, const char *title, int mode, const cavum_spread *spread,
                              const cavum_spread_band *bands, int num_bands);

#endif
