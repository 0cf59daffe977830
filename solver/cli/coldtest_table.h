// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table.h
 * A cold test as text for people.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_H
#define CAVUM_CLI_COLDTEST_TABLE_H

#include <stdio.h>

#include "cavum/coldtest_report.h"

/** What is left out. */
typedef struct cavum_coldtest_table_options {
  int64_t most_rows;    /**< Points in each table; the rest is counted. */
  int64_t most_budgets; /**< Points whose budget is printed. */
} cavum_coldtest_table_options;

/** Prints everything that a report holds, cautions last. */
void cavum_coldtest_table_print(FILE *out, const cavum_coldtest_report *report,
                                const cavum_coldtest_table_options *options);

#endif
