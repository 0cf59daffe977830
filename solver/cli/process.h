// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/process.h
 * What every command does the same way: start, errors, reading numbers of options.
 */
#ifndef CAVUM_CLI_PROCESS_H
#define CAVUM_CLI_PROCESS_H

#include <stdbool.h>
#include <stdio.h>

#include "cavum/status.h"

/**
 * Once, first in main(): the process gets its cores back (cores.h); argp exits with 2 on bad usage
 * and knows the version; output that cannot be written (a full disk behind standard output) ends
 * the process with 2 and one line.
 */
void cavum_process_start(void);

/**
 * Fills in an error with "subject: what" and returns its status.
 * @param[out] error  May be NULL.
 */
cavum_status cavum_process_fail(cavum_error *error, cavum_status status, const char *subject,
                                const char *what);

/** Writes "cavum: message" to standard error unless all went well, and returns the exit status. */
int cavum_process_report(cavum_status status, const cavum_error *error);

/**
 * Writes a word so that a shell reads it as one: as it is where that is plain, else in quotes; a
 * name that begins with a dash with "./" before it.
 */
void cavum_process_print_shell_word(FILE *out, const char *word);

/** Writes "cavum: note: text" to standard error; nothing for "". */
void cavum_process_note(const char *text);

/**
 * Makes memory of a solve cheaper: the heap grows in one large step, stays, and is backed by large
 * pages where the system has them. Thousands of page faults are a tenth of the time of a small
 * cell. Nothing depends on it: where it fails, the heap stays as it was.
 */
void cavum_process_reserve_memory(void);

/** Reads a whole text as an integer within [smallest, largest]; false when it is none. */
bool cavum_process_read_integer(int *value, const char *text, int smallest, int largest);

/** Reads a whole text as a finite number; false when it is none. */
bool cavum_process_read_number(double *value, const char *text);

/**
 * Checks that a file of this name can be made, so that a long computation is not lost at its end.
 * @param[in]  path   NULL and "-" are always good.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE  the folder does not exist or cannot be written to.
 */
cavum_status cavum_process_check_output(const char *path, cavum_error *error);

#endif
