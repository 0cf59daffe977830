// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/command_line.h
 * Command lines: argp, and what it lacks.
 */
#ifndef CAVUM_CLI_COMMAND_LINE_H
#define CAVUM_CLI_COMMAND_LINE_H

#include <argp.h>

/**
 * argp_parse(), with -h for --help, and with the nearest option where one is mistyped (exit status
 * 2). The arguments are those of main(): argv[0] is the name in messages. They may be changed.
 */
void cavum_command_line_parse(const struct argp *argp, int argc, char **argv, void *input);

/** -h becomes --help, up to the first argument that is no option where `until_command` is set. */
void cavum_command_line_take_short_help(int argc, char **argv, int until_command);

#endif
