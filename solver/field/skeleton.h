// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file skeleton.h
 * Sparse structure of the condensed problem: vertices and edges as dense blocks.
 *
 * A block is a vertex (1 unknown) or an edge (degree - 1 unknowns). Blocks on a boundary where w =
 * 0 are left out. All unknowns of a block have the same neighbours, so the elimination is planned
 * block by block, once for all degrees.
 */
#ifndef CAVUM_SKELETON_H
#define CAVUM_SKELETON_H

#include "block_factor.h"
#include "cavum/mesh.h"

/** What the mirror plane and which boundaries mean in one problem. */
typedef struct cavum_closure {
  bool symmetry_is_magnetic; /**< CAVUM_BOUNDARY_SYMMETRY: w = 0 there instead of natural. */
} cavum_closure;

/** Structure of the condensed matrix. */
typedef struct cavum_skeleton {
  const cavum_mesh *mesh; /**< Borrowed. */
  cavum_closure closure;
  cavum_index num_blocks;      /**< Vertices, then edges. */
  bool *exists;                /**< Owned, [num_blocks]: false where w = 0. */
  cavum_index *element_blocks; /**< Owned, [num_elements][CAVUM_BLOCKS_MOST], -1 beyond the last. */
  cavum_block_plan plan;       /**< Elimination, for every degree. */
} cavum_skeleton;

/**
 * Builds the structure.
 * @retval CAVUM_ERR_MESH    no unknown is left.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_skeleton_create(cavum_skeleton *skeleton, const cavum_mesh *mesh,
                                   const cavum_closure *closure, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_skeleton_clear(cavum_skeleton *skeleton);

/** Unknowns of a block at a degree. */
static inline int cavum_skeleton_block_size(const cavum_skeleton *skeleton, cavum_index block,
                                            int degree) {
  return block < skeleton->mesh->num_vertices ? 1 : degree - 1;
}

/** First unknown of a block in the numbering of cavum_space. */
static inline cavum_index cavum_skeleton_first_unknown(const cavum_skeleton *skeleton,
                                                       cavum_index block, int degree) {
  cavum_index vertices = skeleton->mesh->num_vertices;
  return block < vertices ? block : vertices + (block - vertices) * (degree - 1);
}

#endif
