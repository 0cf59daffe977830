// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file skeleton.h
 * Sparse structure of the condensed problem: vertices and edges as dense blocks.
 *
 * A block is a vertex (1 unknown) or an edge (degree - 1 unknowns). Blocks on a boundary where w = 0
 * are left out. All unknowns of a block have the same neighbours, so the pattern, the elimination
 * order and the place of every element entry are found block by block.
 */
#ifndef CAVUM_SKELETON_H
#define CAVUM_SKELETON_H

#include "space.h"
#include "sparse_factor.h"

/** What the mirror plane and which boundaries mean in one problem. */
typedef struct cavum_closure {
  bool symmetry_is_magnetic; /**< CAVUM_BOUNDARY_SYMMETRY: w = 0 there instead of natural. */
} cavum_closure;

/** Structure of the condensed matrix. */
typedef struct cavum_skeleton {
  const cavum_space *space;   /**< Borrowed. */
  cavum_index num_blocks;     /**< Vertices, then edges. */
  cavum_index *first;         /**< Owned, [num_blocks]: first row of the block, or -1 when left out. */
  cavum_index num_rows;       /**< Rows of the condensed matrix. */
  cavum_sparse_pattern pattern; /**< Arrays owned. */
  int64_t *order;             /**< Owned, [num_rows]: elimination order. */
  int32_t *place;             /**< Owned, [num_elements][8][8]: row offset of block R in column block
                                   C, or -1 when R lies above C or one of them is left out. */
} cavum_skeleton;

/**
 * Builds the structure.
 * @retval CAVUM_ERR_MESH    no unknown is left.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_skeleton_create(cavum_skeleton *skeleton, const cavum_space *space,
                                   const cavum_closure *closure, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_skeleton_clear(cavum_skeleton *skeleton);

/**
 * Adds the condensed matrix of one element.
 * @param[in,out] values  Shape [pattern.column_start[num_rows]].
 * @param[in]     S       Lower triangle, column-major.
 * @param[in]     stride  Leading dimension of S.
 */
void cavum_skeleton_add(double *values, const cavum_skeleton *skeleton, cavum_index element,
                        const double *S, int stride);

/** Copies the free rows out of a full vector, or back (zero elsewhere in the skeleton). */
void cavum_skeleton_take(double *rows, const cavum_skeleton *skeleton, const double *full);
/** See cavum_skeleton_take(). */
void cavum_skeleton_put(double *full, const cavum_skeleton *skeleton, const double *rows);

#endif
