// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/cmd_coldtest.h
 * Pictures and reports for `cavum coldtest`. Its program does not load what draws: when they are
 * asked for, the second program (second_program.h) runs the same command with these functions.
 */
#ifndef CAVUM_CLI_CMD_COLDTEST_H
#define CAVUM_CLI_CMD_COLDTEST_H

#include <stddef.h>

#include "cavum/coldtest_report.h"

/** How to draw. Bytes are new memory, release with free(). */
typedef struct cavum_coldtest_drawing {
  /** Refuses a name whose ending is none of a picture. */
  cavum_status (*check)(const char *path, cavum_error *error);
  /** A picture in the format that the ending of its name says. */
  cavum_status (*picture)(char **bytes, size_t *size, const char *path,
                          const cavum_coldtest_report *report, cavum_error *error);
  /** A page. */
  cavum_status (*page)(char **bytes, size_t *size, const cavum_coldtest_report *report,
                       cavum_error *error);
} cavum_coldtest_drawing;

/** The command; `drawing` NULL: the second program runs what draws. */
int cavum_coldtest_command(int argc, char **argv, const cavum_coldtest_drawing *drawing);

#endif
