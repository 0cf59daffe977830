// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/skeleton.h
 * Sparse structure of the condensed problem: vertices and edges as dense blocks.
 *
 * A block is a vertex (1 unknown) or an edge (degree - 1 unknowns). Blocks on a boundary where w =
 * 0 are left out. All unknowns of a block have the same neighbours, so the elimination is planned
 * block by block, once for all degrees. The unknowns of the mirror plane come last: without their
 * rows at the end, the factors are those of the problem in which w = 0 on the plane, so that one
 * factorisation serves the modes of both symmetries.
 */
#ifndef CAVUM_FEM_SKELETON_H
#define CAVUM_FEM_SKELETON_H

#include "cavum/mesh.h"
#include "linalg/block_plan.h"

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
  bool all_exist;              /**< No block is left out. */
  const cavum_block_plan *plan; /**< Elimination, for every degree; may hold blocks that do not
                                   exist, which then have no unknowns. */
  cavum_block_plan own_plan;    /**< Owned; empty when the plan is that of another closure. */
} cavum_skeleton;

/**
 * Builds the structure.
 * @retval CAVUM_ERR_MESH    no unknown is left.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_skeleton_create(cavum_skeleton *skeleton, const cavum_mesh *mesh,
                                   const cavum_closure *closure, cavum_error *error);

/**
 * The structure of another closure of the same mesh, with the plan of one that has all blocks that
 * are needed. `like` must outlive it.
 * @retval CAVUM_ERR_MESH, CAVUM_ERR_MEMORY  as above.
 */
cavum_status cavum_skeleton_create_like(cavum_skeleton *skeleton, const cavum_skeleton *like,
                                        const cavum_closure *closure, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_skeleton_clear(cavum_skeleton *skeleton);

/** Functions of a block at a degree, whether it exists or not. */
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
