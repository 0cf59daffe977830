// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_requirements.h
 * What a cell must meet, and whether it does, as a table for people.
 */
#ifndef CAVUM_CLI_TABLE_REQUIREMENTS_H
#define CAVUM_CLI_TABLE_REQUIREMENTS_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/requirement.h"

/**
 * Prints a row a requirement, of the first mode; nothing without requirements.
 * @param[in] out           Open stream; write errors are left in it.
 * @param[in] requirements  Of the cell.
 * @param[in] cell          That was solved.
 * @param[in] result        Of it.
 * @param[in] all_digits    All digits that mean something, not only those that were asked for.
 */
void cavum_table_requirements_print(FILE *out, const cavum_requirements *requirements,
                                    const cavum_cell *cell, const cavum_result *result,
                                    bool all_digits);

#endif
