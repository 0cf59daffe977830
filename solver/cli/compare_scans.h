// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/compare_scans.h
 * Results of several studies side by side.
 */
#ifndef CAVUM_CLI_COMPARE_SCANS_H
#define CAVUM_CLI_COMPARE_SCANS_H

#include "cavum/cavum.h"
#include "cli/compare_table.h"
#include "cli/compare_tests.h"

/** What was asked for. */
typedef struct cavum_compare_scans_arguments {
  const char *paths[CAVUM_COMPARE_TESTS_MOST];
  int num_paths;
  const char *page_path; /**< HTML; NULL: none. */
  const char *json_path; /**< NULL: none; "-": in place of the tables. */
  bool overwrite, quiet;
} cavum_compare_scans_arguments;

/** True for a result file of a scan. */
bool cavum_compare_is_scan(const char *path);

/**
 * Prints keys of studies and base cells that differ, how many shapes there are, ranges of the
 * columns that all studies have, and the best shapes; writes the page.
 * @return Exit status.
 */
int cavum_compare_scans(const cavum_compare_scans_arguments *arguments);

#endif
