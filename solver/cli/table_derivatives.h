// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_derivatives.h
 * Derivatives of figures by dimensions as tables for people.
 */
#ifndef CAVUM_CLI_TABLE_DERIVATIVES_H
#define CAVUM_CLI_TABLE_DERIVATIVES_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/solve.h"

/**
 * Prints one table a mode: a row a dimension, those first that change the frequency most per unit;
 * the frequency in MHz, other figures in percent of themselves. Then one of
 * k_cc, in percent of itself, where that was asked for. Nothing without derivatives.
 * @param[in] out         Open stream; write errors are left in it.
 * @param[in] result      Solved result.
 * @param[in] all_digits  All digits that mean something, not only five.
 */
void cavum_table_derivatives_print(FILE *out, const cavum_result *result, bool all_digits);

#endif
