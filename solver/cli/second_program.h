// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/second_program.h
 * Commands in a second program, `cavum-more`: those that draw or read expressions need libraries
 * that take longer to load than a cell to solve. The user sees one program: the second takes the
 * place of the first in the same process.
 */
#ifndef CAVUM_CLI_SECOND_PROGRAM_H
#define CAVUM_CLI_SECOND_PROGRAM_H

/**
 * Runs a command of the second program; a function of a command table.
 *
 * The program is looked for beside this one, as in a build folder, and then where an installation
 * puts it relative to this one.
 *
 * @param[in] argc  Number of arguments.
 * @param[in] argv  Arguments; argv[0] is the name to show in messages ("cavum draw"), by which the
 *                  second program also knows the command. NULL-terminated.
 * @return Only when the program cannot be run, after a message: the exit status.
 */
int cavum_second_program_run(int argc, char **argv);

#endif
