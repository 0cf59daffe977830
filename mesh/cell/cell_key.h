// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/cell_key.h
 * One number of a cell that is changed again and again.
 */
#ifndef CAVUM_CELL_CELL_KEY_H
#define CAVUM_CELL_CELL_KEY_H

#include "cavum/cell_key.h"
#include "cell/place.h"

/** A number of a cell, found once. */
typedef struct cavum_cell_dial {
  cavum_place place;
  cavum_cell read;       /**< Owned: the cell as read from its text, where the number is in that. */
  cavum_place_base base; /**< Of the cell itself, or of `read`. */
  bool is_read;
  const cavum_cell *numbers; /**< Borrowed: whose other numbers stay, where the text has the path
                                alone right; NULL: the text has all. */
} cavum_cell_dial;

/**
 * Finds a number.
 * @param[out] dial   Release with cavum_cell_dial_clear(); untouched unless CAVUM_OK.
 * @param[in]  cell   Whole; borrowed, must stay as it is.
 * @param[in]  key    Dotted key.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT, CAVUM_ERR_GEOMETRY, CAVUM_ERR_MEMORY  as cavum_cell_describe_key().
 */
cavum_status cavum_cell_dial_open(cavum_cell_dial *dial, const cavum_cell *cell, const char *key,
                                  cavum_error *error);

/** Frees what a dial owns. */
void cavum_cell_dial_clear(cavum_cell_dial *dial);

/** The cell with another value there, as of cavum_place_apply(). */
cavum_status cavum_cell_dial_set(cavum_cell *made, bool *owned, const cavum_cell_dial *dial,
                                 double value, cavum_error *error);

#endif
