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

/**
 * Text of a cell file with a key put in front of the others of its mapping, or with another plain
 * value of it.
 * @param[out] edited  Owned, free(); untouched unless CAVUM_OK. It need not be a good cell.
 * @param[in]  text    Text of a cell.
 * @param[in]  key     Full dotted key without lists.
 * @param[in]  value   As it is to stand there, in one line.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  no place for such a key, or a value that is there and not plain.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_edit_put(char **edited, const char *text, const char *key,
                                 const char *value, cavum_error *error);

/**
 * Text of a cell file with one more entry of a list, in brackets or with an entry {...} in each
 * line.
 * @param[out] edited  As of cavum_cell_edit_put().
 * @param[in]  text    Text of a cell.
 * @param[in]  key     Full dotted key of the list.
 * @param[in]  entry   The entry, "{...}".
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_INPUT  no such list, or one that is written in another way.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_edit_append(char **edited, const char *text, const char *key,
                                    const char *entry, cavum_error *error);

/**
 * Text of a cell file with another title.
 * @param[out] edited  As of cavum_cell_edit_put().
 * @retval CAVUM_ERR_INPUT  a title of several lines that stands there.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_edit_title(char **edited, const char *text, const char *title,
                                   cavum_error *error);

#endif
