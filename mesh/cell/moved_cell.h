// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/moved_cell.h
 * Cells and the texts that they come from: whether the path is still that of the text, and of those
 * with a list contour.moved what they were before, and with other ends.
 */
#ifndef CAVUM_CELL_MOVED_CELL_H
#define CAVUM_CELL_MOVED_CELL_H

#include "cavum/cell.h"

/**
 * Whether the path of a cell is still the one of the text that it was read from: other numbers may
 * have changed since. Only that text has splines and circles as such.
 * @param[out] same  Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_has_path_of_text(bool *same, const cavum_cell *cell, cavum_error *error);

/** The path of a text that was read, for the next cell with that text; zeroed before the first. */
typedef struct cavum_text_path {
  char *text;      /**< Owned; NULL: nothing is known. */
  bool is_path;    /**< The text has a path. */
  uint64_t digest; /**< Of that path, cavum_path_digest(). */
} cavum_text_path;

/**
 * The same where cells with one text follow one another: it is read once. Texts that name other
 * files, which may have changed, are read each time.
 * @param[in,out] known  Release with cavum_text_path_clear().
 */
cavum_status cavum_cell_has_path_of_known(bool *same, cavum_text_path *known,
                                          const cavum_cell *cell, cavum_error *error);

/** Frees what it owns and empties it. */
void cavum_text_path_clear(cavum_text_path *known);

/** A cell, seen as one that was moved. */
typedef struct cavum_moved_cell {
  bool is_one;
  cavum_cell base;   /**< Owned where it is one: before the moves. */
  bool keeps_length; /**< The accelerating length is stated. */
} cavum_moved_cell;

/**
 * Looks whether the path of a cell is that of a text with a list of moves.
 * @param[out] moved  Owned by the caller, cavum_moved_cell_clear(); untouched unless CAVUM_OK.
 * @param[in]  cell   Checked.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_moved_cell_look(cavum_moved_cell *moved, const cavum_cell *cell,
                                   cavum_error *error);

/**
 * Whether the accelerating length of a cell is that of the halves of a two-ellipse cell before it
 * was moved, moved as well, as no other is stated.
 * @param[out] moved  Untouched unless CAVUM_OK.
 * @param[in]  cell   Checked.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_moved_cell_has_moved_length(bool *moved, const cavum_cell *cell,
                                               cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_moved_cell_clear(cavum_moved_cell *moved);

/**
 * A moved two-ellipse cell with both ends closed by a plane of a kind, with the text that says so;
 * of one with tubes the inner cell (inner_cell.h).
 * @param[out] other  Path and text are owned by the caller, cavum_moved_cell_free_other(), all else
 *                    is borrowed from the cell; untouched unless CAVUM_OK.
 * @param[in]  cell   A moved cell, its base a two-ellipse cell with planes or tubes at both ends.
 * @param[in]  kind   Electric or magnetic.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT   the text has its ends in another way than as plain words.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_moved_cell_close(cavum_cell *other, const cavum_cell *cell, cavum_end_kind kind,
                                    cavum_error *error);

/** Frees what the other cell owns. */
void cavum_moved_cell_free_other(cavum_cell *other);

#endif
