// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_as_built.h
 * A measured wall on the screen.
 */
#ifndef CAVUM_CLI_TABLE_AS_BUILT_H
#define CAVUM_CLI_TABLE_AS_BUILT_H

#include <stdio.h>

#include "cavum/as_built.h"

/** Prints a measured wall: points, figures, and the pieces of the wall. */
void cavum_table_as_built_print(FILE *out, const cavum_as_built *built);

#endif
