// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file rate_report.h
 * Figures of a benchmark for people and for programs: order statistics, and a flat JSON object.
 */
#ifndef CAVUM_BENCH_RATE_REPORT_H
#define CAVUM_BENCH_RATE_REPORT_H

#include <jansson.h>
#include <stdbool.h>

/** The value that so large a share of the values does not exceed; NAN when there are none. Sorts.
 */
double rate_quantile(double *values, int count, double share);

/** Adds a number to the report, under a key made like by printf(); nothing when it is not finite.
 */
void rate_report_set(json_t *report, double value, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/** Writes a report to a file; false, with a message, when that fails. */
bool rate_report_write(const json_t *report, const char *path);

#endif
