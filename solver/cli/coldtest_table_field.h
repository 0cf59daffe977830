// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table_field.h
 * The text of what a cold test says against the field.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_FIELD_H
#define CAVUM_CLI_COLDTEST_TABLE_FIELD_H

#include <stdio.h>

#include "cavum/coldtest_report.h"

/** Prints surface resistance against field; nothing where it was not asked for. */
void cavum_coldtest_table_print_field(FILE *out, const cavum_coldtest_report *report);

/** Prints what is fitted to each run alone; nothing where there are no runs or no fits. */
void cavum_coldtest_table_print_run_fits(FILE *out, const cavum_coldtest_report *report);

#endif
