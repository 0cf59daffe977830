// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/stopped.h
 * Files of a search that was stopped by a signal.
 */
#ifndef CAVUM_CLI_STOPPED_H
#define CAVUM_CLI_STOPPED_H

#include <stdbool.h>

#include "cavum/status.h"

/**
 * Says at the end of a message which files are written of what was found so far, and which older
 * ones stay: half a search replaces no file that a whole one may have left.
 * @param[in,out] names      Names of files; NULL and "-" are none. Those that stay become NULL.
 * @param[in]     overwrite  None stays.
 */
void cavum_stopped_tell_files(const char **const *names, int count, bool overwrite,
                              cavum_error *error);

#endif
