// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/scan_result.h
 * What cavum scan makes of a result file: a summary, CSV, the cell file of a shape.
 */
#ifndef CAVUM_CLI_SCAN_RESULT_H
#define CAVUM_CLI_SCAN_RESULT_H

#include "cli/scan_arguments.h"

/** Writes the rows of a result file as CSV where that was asked for. */
cavum_status cavum_scan_result_write_csv(const cavum_scan_arguments *a, const char *path,
                                         cavum_error *error);

/** --summary: prints the summary of the input, and writes its rows as CSV where asked for. */
cavum_status cavum_scan_result_sum_up(cavum_scan_arguments *a, cavum_error *error);

/** --shape: writes the cell file of a shape of the input. */
cavum_status cavum_scan_result_write_shape(const cavum_scan_arguments *a, cavum_error *error);

/** --merge: writes the merged rows of the input and of the other result. */
cavum_status cavum_scan_result_merge(const cavum_scan_arguments *a, cavum_error *error);

#endif
