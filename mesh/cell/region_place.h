// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file cell/region_place.h
 * Where a cell file says what a region of a mesh file is made of.
 */
#ifndef CAVUM_CELL_REGION_PLACE_H
#define CAVUM_CELL_REGION_PLACE_H

#include "cavum/cell.h"

/** Longest place of a region with its final zero. */
enum { CAVUM_REGION_PLACE_SIZE = 384 };

/**
 * `file:line:column: contour.regions.NAME` for messages; without the text of a cell file the member
 * of the cell, `cell: mesh.regions[INDEX] 'NAME'`.
 *
 * @param[out] place  Zero-terminated; a long name is cut.
 * @param[in]  cell   With mesh.regions.
 * @param[in]  index  Into mesh.regions.
 */
void cavum_cell_region_place(char place[CAVUM_REGION_PLACE_SIZE], const cavum_cell *cell,
                             cavum_index index);

#endif
