// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file report/report_file.h
 * Reports of cold tests and scans.
 */
#ifndef CAVUM_REPORT_REPORT_FILE_H
#define CAVUM_REPORT_REPORT_FILE_H

#include <stddef.h>

#include "cavum/status.h"

/** The report of a cold-test file; like cavum_picture_report_file(). */
cavum_status cavum_report_coldtest_file(char **bytes, size_t *size, const char *path,
                                        cavum_error *error);

/** The report of a scan's result file; like cavum_picture_report_file(). */
cavum_status cavum_report_scan_file(char **bytes, size_t *size, const char *path,
                                    cavum_error *error);

#endif
