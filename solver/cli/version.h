// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/version.h
 * Versions: of cavum, and of the libraries that its numbers and files depend on.
 */
#ifndef CAVUM_CLI_VERSION_H
#define CAVUM_CLI_VERSION_H

#include <stdio.h>

struct argp_state;

/**
 * Prints the version, and in a second line the libraries that it was compiled for; a function for
 * argp_program_version_hook.
 * @param[in,out] stream  Where to.
 * @param[in]     state   Not looked at.
 */
void cavum_version_print(FILE *stream, struct argp_state *state);

#endif
