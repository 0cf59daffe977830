// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/cell_check.h
 * What a cell must be before anything is made of it.
 */
#ifndef CAVUM_CELL_CELL_CHECK_H
#define CAVUM_CELL_CELL_CHECK_H

#include "cavum/cell.h"

/** Kinds of a whole cell that are not stated or unknown are CAVUM_ERR_INPUT. */
cavum_status cavum_cell_check_kinds(const cavum_cell *cell, cavum_error *error);

/** Word of a cell file for the unit of a mesh file, "mm"; "" when no word has this length; static.
 */
const char *cavum_cell_length_word(double unit_m);

/** cavum_cell_check() of a whole cell. */
cavum_status cavum_cell_check_whole(const cavum_cell *cell, cavum_error *error);

#endif
