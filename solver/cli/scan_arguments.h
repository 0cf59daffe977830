// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/scan_arguments.h
 * The command line of `cavum scan`.
 */
#ifndef CAVUM_CLI_SCAN_ARGUMENTS_H
#define CAVUM_CLI_SCAN_ARGUMENTS_H

#include "cavum/scan.h"

/** What the command line asks for; texts are borrowed from it, NULL where nothing was given. */
typedef struct cavum_scan_arguments {
  const char *input, *output, *csv_path, *watched_key;
  const char *json_path; /**< "-": standard output, in place of what is printed. */
  const char *where;     /**< Condition on rows. */
  const char *merged;    /**< The other result of a merge. */
  char *aims;            /**< Keys with commas between; is cut into its words. */
  bool gather, estimate, summary, quiet, keep_parts, overwrite;
  bool part;     /**< One of `options.num_parts`, which may be 1, is computed and not gathered. */
  int top;       /**< Best shapes of each aim; 0: not given. */
  int64_t shape; /**< Whose cell file is written; -1: none. */
  cavum_scan_options options;
} cavum_scan_arguments;

/** Whether JSON goes to standard output. */
bool cavum_scan_arguments_json_on_screen(const cavum_scan_arguments *arguments);

/** Reads and checks a command line; ends the process when it is wrong, and after --help. */
cavum_scan_arguments cavum_scan_arguments_parse(int argc, char **argv);

#endif
