// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/coldtest_table_plan.h
 * Plans of a cold test as text for people.
 */
#ifndef CAVUM_CLI_COLDTEST_TABLE_PLAN_H
#define CAVUM_CLI_COLDTEST_TABLE_PLAN_H

#include <stdio.h>

#include "cavum/coldtest_report.h"

/** Prints the plans of a report: what the meters show in a table, then each plan in full. */
void cavum_coldtest_table_print_plans(FILE *out, const cavum_coldtest_report *report);

#endif
