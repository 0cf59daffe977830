// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/scan_summary.h
 * A result of a scan as tables for people.
 */
#ifndef CAVUM_CLI_SCAN_SUMMARY_H
#define CAVUM_CLI_SCAN_SUMMARY_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/scan_store.h"

/**
 * Prints how many shapes there are of each status and why, the ranges of dimensions and figures,
 * how many meet the requirements of
 * the base cell, and the best shapes of each aim and of all aims together with their dimensions.
 * Keys and units are those of the file, which conditions are written in; shapes count from 0, as in
 * the file.
 * @param[in] filter  Rows that it is of; NULL: all.
 * @param[in] where  The condition that its rows meet, NULL: none.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT  damaged.
 */
cavum_status cavum_scan_summary_print(FILE *out, const cavum_scan_summary *summary,
                                      const cavum_stored_scan *scan, const cavum_scan_aims *aims,
                                      const cavum_scan_filter *filter, const char *where,
                                      cavum_error *error);

/** Key of a column without the word contour in front, which conditions and aims need not have;
 * borrowed. */
const char *cavum_scan_summary_key(const cavum_stored_scan *scan, int column);

/** Unit of a column as the screen writes it; borrowed. */
const char *cavum_scan_summary_unit(const cavum_stored_scan *scan, int column);

/**
 * True for dimensions and figures: not how well they are known, where a peak is, or how they were
 * computed.
 */
bool cavum_scan_summary_is_shown(const cavum_stored_scan *scan, int column);

/** The figures that matter where a study states none: peak fields and G times R/Q. */
void cavum_scan_summary_choose_aims(cavum_scan_aims *aims, const cavum_stored_scan *scan);

#endif
