// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/common_arguments.h
 * What most commands are told in the same way: -o, --json, --quiet and --overwrite.
 */
#ifndef CAVUM_CLI_COMMON_ARGUMENTS_H
#define CAVUM_CLI_COMMON_ARGUMENTS_H

#include <argp.h>
#include <stdbool.h>

#include "cavum/status.h"

/** Key of --json; that of --overwrite is in options.h. */
enum { CAVUM_OPTION_JSON = 1025 };

/** The arguments; paths are borrowed, NULL: not asked for. */
typedef struct cavum_common_arguments {
  const char *output_path; /**< -o: a file by its name. */
  const char *json_path;   /**< --json; "-" is standard output, in place of what is printed. */
  bool quiet, overwrite;
} cavum_common_arguments;

/** Takes an option; false: it is another one. Ends the process when -o has no file name. */
bool cavum_common_take(cavum_common_arguments *common, int key, const char *value,
                       struct argp_state *state);

/** Ends the process with a usage error when nothing is printed and nothing written. `other` is
 * one more file that the command may write, or NULL. */
void cavum_common_check(const cavum_common_arguments *common, const char *other,
                        struct argp_state *state);

/** True when JSON goes to standard output. */
bool cavum_common_json_on_screen(const cavum_common_arguments *common);

/** True when tables are printed: neither --quiet nor JSON in their place. */
bool cavum_common_prints(const cavum_common_arguments *common);

/**
 * Writes JSON to the file of --json and frees it.
 * @param[in]     common  With a json_path.
 * @param[in]     status  Of what made it; it is the result where it is not CAVUM_OK.
 * @param[in,out] json    What was made; freed and set to NULL.
 * @param[out]    error   May be NULL.
 */
cavum_status cavum_common_write_json(const cavum_common_arguments *common, cavum_status status,
                                     char **json, cavum_error *error);

#endif
