// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cli/open_cell.h
 * How the commands that solve cells begin.
 */
#ifndef CAVUM_CLI_OPEN_CELL_H
#define CAVUM_CLI_OPEN_CELL_H

#include "cavum/cell.h"
#include "cavum/requirement.h"
#include "cli/outputs.h"

/**
 * Keeps memory for messages, catches signals, reads the cell file with its requirements and checks
 * what is to be written against what is read; then says what the cell has to say, and that there is
 * memory.
 * @param[out]    cell          Cleared by the caller in any case.
 * @param[out]    requirements  Destroyed by the caller; untouched where the cell cannot be read.
 *                              NULL: they are only checked.
 * @param[in]     path          Cell file.
 * @param[in,out] outputs       What is written and what else is read.
 * @param[out]    error         Why it cannot go on.
 */
cavum_status cavum_open_cell(cavum_cell *cell, cavum_requirements **requirements, const char *path,
                             cavum_outputs *outputs, cavum_error *error);

#endif
