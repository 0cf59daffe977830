// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table_emission.h
 * The text of field emission.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_EMISSION_H
#define CAVUM_CLI_COLDTEST_TABLE_EMISSION_H

#include <stdio.h>

#include "cavum/coldtest_report.h"

/** Prints onset, enhancement and power where field emission was asked for. */
void cavum_coldtest_table_print_emission(FILE *out, const cavum_coldtest_report *report);

#endif
