// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/cell.h
 * Cells of a program against those of the library: a program may know fewer members, or more.
 */
#ifndef CAVUM_CELL_CELL_H
#define CAVUM_CELL_CELL_H

#include "base/sized.h"
#include "cavum/cell.h"

/** Bytes of a cell in the first version of the interface. */
enum { CAVUM_CELL_FIRST_SIZE = offsetof(cavum_cell, wall) + sizeof(cavum_wall) };

/** What is known of cells, for cavum_sized_take(). */
extern const cavum_sized cavum_cell_sized;

/**
 * Hands a whole cell over to a program.
 * @param[out]    cell         Untouched unless CAVUM_OK.
 * @param[in]     struct_size  What the program knows of it.
 * @param[in,out] made         Moved; cleared unless CAVUM_OK.
 * @param[out]    error        May be NULL.
 * @retval CAVUM_ERR_USAGE  the program's struct has no room for something that the cell owns.
 */
cavum_status cavum_cell_give(cavum_cell *cell, size_t struct_size, cavum_cell *made,
                             cavum_error *error);

/** cavum_cell_is_mirror_symmetric() of a whole cell. */
bool cavum_cell_whole_is_symmetric(const cavum_cell *cell);

/** Whether it is, with where its mirror plane is; *plane_m is untouched otherwise. */
bool cavum_cell_whole_find_plane(double *plane_m, const cavum_cell *cell);

/** cavum_cell_make_contour() of a whole cell. */
cavum_status cavum_cell_whole_contour(cavum_contour *contour, const cavum_cell *cell,
                                      cavum_cell_part part, cavum_error *error);

/** Lets a cell ask for so many of the lowest modes at most; one that asks for those nearest to a
 * frequency asks for as many as before, since they tell which ones those are. */
static inline void cavum_cell_drop_modes(cavum_cell *cell, int needed) {
  if (cell->near_hz == 0.0 && needed < cell->num_modes) cell->num_modes = needed;
}

/**
 * Gives a cell of a path all that another one has but the path and the text.
 * @param[in,out] cell   Owns what it has; unchanged unless CAVUM_OK.
 * @param[in]     other  Whole.
 * @param[in]     length_of_text_m  Accelerating length that the text of the other one gives: where
 *                                  it still has that, the cell keeps its own.
 * @param[out]    error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_cell_keep_numbers(cavum_cell *cell, const cavum_cell *other,
                                     double length_of_text_m, cavum_error *error);

#endif
