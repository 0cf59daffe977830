// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/table_geometry.h
 * What can be built, as a table for people.
 */
#ifndef CAVUM_CLI_TABLE_GEOMETRY_H
#define CAVUM_CLI_TABLE_GEOMETRY_H

#include <stdio.h>

#include "cavum/geometry.h"

/**
 * Prints the figures of a shape and, where it has derivatives, what each dimension does to them.
 * @param[in] out       Open stream; write errors are left in it.
 * @param[in] geometry  Of cavum_geometry_measure().
 * @param[in] accuracy  Relative, that numbers are shown with; 0: all digits.
 */
void cavum_table_geometry_print(FILE *out, const cavum_geometry *geometry, double accuracy);

#endif
