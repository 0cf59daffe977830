// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell_text.h
 * A cell as the text of a cell file.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_CELL_TEXT_H
#define CAVUM_CELL_TEXT_H

#include <stdint.h>

#include "cavum/cell.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * A cell as text that cavum_cell_read_text() turns into the same cell, to the bit, so that both
 * solve to the same numbers.
 *
 * A cell that was read and is unchanged gives the text that was read, with its comments. Any other
 * cell is written: lengths in millimetres with as many digits as it takes; arcs and splines of a
 * path that was filled in or changed as arcs with their angles and cubics with their coefficients,
 * a mesh that is in memory byte for byte in base64.
 *
 * @param[out] text   Owned by the caller, release with cavum_free(); untouched unless CAVUM_OK.
 * @param[in]  cell   As for cavum_cell_check().
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT     a cell that cavum_cell_check() refuses, or a title or a name that is
 * no UTF-8.
 * @retval CAVUM_ERR_GEOMETRY  a contour that cannot exist.
 * @retval CAVUM_ERR_USAGE     no place for the text, or no cell.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_cell_to_text(char **text, const cavum_cell *cell, cavum_error *error);

/**
 * A number for all that a solve takes from a cell: equal for two cells that are equal to the bit,
 * and practically never otherwise. Title, text, the folder of a mesh file and the name of a
 * mesh in memory do not count.
 */
CAVUM_API uint64_t cavum_cell_digest(const cavum_cell *cell);

#ifdef __cplusplus
}
#endif
#endif
