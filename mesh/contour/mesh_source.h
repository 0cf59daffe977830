// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/mesh_source.h
 * What a program says about a mesh file, checked in one place for cells and for readers of meshes.
 */
#ifndef CAVUM_CONTOUR_MESH_SOURCE_H
#define CAVUM_CONTOUR_MESH_SOURCE_H

#include "cavum/cell.h"

/** Range of eps_r and mu_r. */
#define CAVUM_MATERIAL_LEAST 1e-6
/** The other end of it. */
#define CAVUM_MATERIAL_MOST 1e6

/**
 * Checks the axis, regions and boundaries of a source; its path and unit are for the caller.
 * @param[in]  mesh   What is checked.
 * @param[in]  owner  Before the names of members in messages: "cell: mesh.".
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT  names the member.
 */
cavum_status cavum_mesh_source_check(const cavum_mesh_source *mesh, const char *owner,
                                     cavum_error *error);

#endif
