// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/submesh.h
 * Some elements of a mesh as a mesh of their own.
 */
#ifndef CAVUM_ELEMENT_SUBMESH_H
#define CAVUM_ELEMENT_SUBMESH_H

#include "cavum/mesh.h"

/**
 * Takes elements out of a mesh of blended exact curves (node_order 0).
 *
 * Where the part was cut out its boundary is CAVUM_BOUNDARY_MAGNETIC, that is w = 0; elsewhere it
 * keeps the kinds of the mesh. Elements keep their corners, edges their direction.
 *
 * @param[out] part     Its curves and regions are those of the mesh, which must outlive it; release
 *                      with cavum_submesh_clear(). Untouched unless CAVUM_OK.
 * @param[in]  element  Shape [count]: elements of the mesh, each once; element i of the part is
 *                      element[i].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_submesh_create(cavum_mesh *part, const cavum_mesh *mesh,
                                  const cavum_index *element, cavum_index count,
                                  cavum_error *error);

/** Frees what a part owns and empties it; NULL is accepted. */
void cavum_submesh_clear(cavum_mesh *part);

#endif
