// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/patches.h
 * The coarse mesh of triangles and quadrilaterals that is divided into the final quadrilaterals.
 */
#ifndef CAVUM_MESHER_PATCHES_H
#define CAVUM_MESHER_PATCHES_H

#include "mesher/segments.h"

/** A triangle or quadrilateral, counterclockwise; side k runs from corner k to corner k + 1. */
typedef struct cavum_patch {
  int num_corners; /**< 3 or 4. */
  cavum_index vertex[4];
  cavum_segment side[4]; /**< Piece of the contour under the side; curve -1 inside. */
} cavum_patch;

/** Patches that cover the domain and fit together. */
typedef struct cavum_patches {
  cavum_index num_vertices;
  int64_t vertex_capacity;
  cavum_point *vertices; /**< Owned, shape [num_vertices]. */
  cavum_index num_patches;
  int64_t patch_capacity;
  cavum_patch *patches; /**< Owned, shape [num_patches]. */
} cavum_patches;

/** Frees all that patches own and empties them; NULL is accepted. */
void cavum_patches_clear(cavum_patches *patches);

/** Adds a vertex; its index, or -1 without memory. */
cavum_index cavum_patches_add_vertex(cavum_patches *patches, cavum_point point);

/** Adds a patch; false without memory. */
bool cavum_patches_add(cavum_patches *patches, const cavum_patch *patch);

#endif
