// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/block_plan.h
 * The plan of an elimination in blocks of vertices and edges: elimination tree and supernodes.
 *
 * It depends on which blocks exist and which elements join them, not on the degree, so one plan
 * serves every degree and every neighbouring shape on the same mesh topology.
 */
#ifndef CAVUM_LINALG_BLOCK_PLAN_H
#define CAVUM_LINALG_BLOCK_PLAN_H

#include "cavum/contour.h"
#include "cavum/status.h"

/** Most blocks that one element joins. */
enum { CAVUM_BLOCKS_MOST = 8 };

/** A supernode: blocks eliminated together in one front. */
typedef struct cavum_supernode {
  cavum_index first_block, num_own, num_blocks; /**< Into plan->front_blocks; own blocks first. */
  cavum_index first_element, num_elements;      /**< Into plan->elements: assembled here. */
  cavum_index num_children;                     /**< Fronts on the stack to be added. */
  cavum_index parent;                           /**< Supernode, or -1. */
} cavum_supernode;

/** What to eliminate when; independent of the degree. */
typedef struct cavum_block_plan {
  cavum_index num_blocks; /**< Blocks that exist. */
  cavum_index num_supernodes;
  cavum_supernode *supernodes; /**< Owned, in order of elimination (postorder). */
  cavum_index *front_blocks;   /**< Owned: blocks (numbers of the caller) of every front. */
  cavum_index *elements;       /**< Owned: elements by supernode. */
  cavum_index *element_place;  /**< Owned, [num_elements][CAVUM_BLOCKS_MOST]: position of each block
                                    of an element in the front that assembles it, or -1. */
  cavum_index *child_place; /**< Owned: for every border block of a supernode, its position in the
                                 parent's front; parallel to front_blocks. */
} cavum_block_plan;

/**
 * Plans the elimination.
 * @param[out] plan            Untouched unless CAVUM_OK.
 * @param[in]  order           Elimination order of the blocks, shape [num_blocks].
 * @param[in]  num_blocks      All blocks.
 * @param[in]  exists          Shape [num_blocks]: false leaves a block out.
 * @param[in]  nominal_size    Shape [num_blocks]: rows of each block at a usual degree, which
 * decide what fronts are merged.
 * @param[in]  element_blocks  Shape [num_elements][CAVUM_BLOCKS_MOST], -1 beyond the last.
 * @retval CAVUM_ERR_LIBRARY  OpenBLAS cannot be loaded.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                     cavum_index num_blocks, const bool *exists,
                                     const int *nominal_size, const cavum_index *element_blocks,
                                     cavum_index num_elements, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_block_plan_clear(cavum_block_plan *plan);

/**
 * Row offset in the front of a supernode of every one of its blocks.
 * @param[out] offset      Shape [supernode->num_blocks].
 * @param[in]  block_size  Shape [all blocks].
 */
void cavum_block_plan_front_offsets(cavum_index *offset, const cavum_block_plan *plan,
                                    const cavum_supernode *supernode, const int *block_size);

#endif
