// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mesh_regions.h
 * What a cell says of the materials of a mesh file, against the surfaces that the file has.
 */
#ifndef CAVUM_SOLVE_MESH_REGIONS_H
#define CAVUM_SOLVE_MESH_REGIONS_H

#include "cavum/mesh.h"

/** Longest remark about regions with its final zero. */
enum { CAVUM_MESH_REGIONS_NOTE_SIZE = 256 };

/**
 * Whether every region that the cell names has elements.
 * @param[in]  cell   A cell with a mesh file.
 * @param[in]  mesh   What was read from it.
 * @param[out] error  May be NULL; begins with the place in the cell file.
 * @retval CAVUM_ERR_INPUT  a region without an element: a name that no surface of the file has.
 */
cavum_status cavum_mesh_regions_check(const cavum_cell *cell, const cavum_mesh *mesh,
                                      cavum_error *error);

/**
 * Says that surfaces with names are taken as vacuum since the cell states no regions.
 * @param[out] note  Zero-terminated; "" where the cell has regions or no surface has a name other
 *                   than vacuum.
 */
void cavum_mesh_regions_note(char note[CAVUM_MESH_REGIONS_NOTE_SIZE], const cavum_cell *cell,
                             const cavum_mesh *mesh);

#endif
