// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/cell_edit.h
 * Numbers in the text of a cell file, changed where they stand: comments and layout stay.
 */
#ifndef CAVUM_CELL_CELL_EDIT_H
#define CAVUM_CELL_CELL_EDIT_H

#include "cavum/cell_key.h"

/**
 * Text of a cell file with another value of one dotted key.
 *
 * A number that stands in the text is replaced there. A number of both halves is replaced wherever
 * a half states it itself, too, that of a tube as wide as its iris follows the iris, and the last
 * point of a path of lines and arcs its start. What the text does not state, such as a dimension of
 * one half that follows the contour section, is put in front of the first key of the mapping where
 * it belongs.
 *
 * @param[out] edited  Owned, free(); untouched unless CAVUM_OK. It need not be a good cell.
 * @param[in]  cell    Checked, of that text.
 * @param[in]  text    Text of the cell.
 * @param[in]  key     Full dotted key, as of cavum_cell_describe_key().
 * @param[in]  number  The number as it is to stand there.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  no place for such a key.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_edit_number(char **edited, const cavum_cell *cell, const char *text,
                                    const char *key, const char *number, cavum_error *error);

#endif
