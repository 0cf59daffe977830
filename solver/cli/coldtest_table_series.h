// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table_series.h
 * Decay traces, surface resistance and trapped flux as text for people.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_SERIES_H
#define CAVUM_CLI_COLDTEST_TABLE_SERIES_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/coldtest_report.h"

/** Prints what a report has of them; `windows`: Q0 along each decay trace too. */
void cavum_coldtest_table_print_series(FILE *out, const cavum_coldtest_report *report,
                                       bool windows);

#endif
