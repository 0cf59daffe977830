// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/mesh.h
 * Copies of meshes and their comparison.
 */
#ifndef CAVUM_ELEMENT_MESH_H
#define CAVUM_ELEMENT_MESH_H

#include <stdbool.h>

#include "cavum/mesh.h"

/** Copy of a mesh; cavum_mesh_clear(). Untouched unless CAVUM_OK. */
cavum_status cavum_mesh_copy(cavum_mesh *copy, const cavum_mesh *mesh, cavum_error *error);

/** True when two meshes differ in positions only: the same elements, edges, boundaries, regions. */
bool cavum_mesh_same_topology(const cavum_mesh *a, const cavum_mesh *b);

#endif
