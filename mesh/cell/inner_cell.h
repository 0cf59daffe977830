// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/inner_cell.h
 * The inner cell of a two-ellipse cell with tubes that was moved: planes in its iris planes in
 * place of the tubes, and what was done to the cell done to it.
 *
 * Lengths of the whole are those of cell and tubes together: an inner cell is scaled alike. What
 * was cut off a tube does nothing to it.
 */
#ifndef CAVUM_CELL_INNER_CELL_H
#define CAVUM_CELL_INNER_CELL_H

#include "cavum/cell.h"

/**
 * Whether a moved cell has an inner one that has its derivatives, where they are asked for.
 * @param[in]  cell         A moved cell, its base a two-ellipse cell.
 * @param[in]  derivatives  By the dimensions of the cell.
 * @param[out] error        May be NULL; says which entry of the list stands against it.
 * @retval CAVUM_ERR_USAGE   it has not.
 * @retval CAVUM_ERR_INPUT   as cavum_cell_read_text().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_inner_cell_check(const cavum_cell *cell, bool derivatives, cavum_error *error);

/**
 * Text of the inner cell with both ends closed by a plane of a kind.
 * @param[out] text   Owned by the caller, free(); untouched unless CAVUM_OK.
 * @param[in]  cell   A moved cell, its base a two-ellipse cell with a tube.
 * @param[in]  kind   Electric or magnetic.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a move that cannot be.
 * @retval CAVUM_ERR_INPUT     as cavum_cell_read_text().
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_inner_cell_write(char **text, const cavum_cell *cell, cavum_end_kind kind,
                                    cavum_error *error);

#endif
