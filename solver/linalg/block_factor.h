// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/block_factor.h
 * Multifrontal L D L^T of the condensed matrix, in blocks of vertices and edges.
 *
 * The plan (elimination tree, supernodes) depends on which blocks exist and which elements join
 * them, not on the degree, so one plan serves every degree and every neighbouring shape on the same
 * mesh topology. Numerically each supernode is one dense front [Liu1992].
 */
#ifndef CAVUM_LINALG_BLOCK_FACTOR_H
#define CAVUM_LINALG_BLOCK_FACTOR_H

#include "cavum/contour.h"
#include "cavum/status.h"
#include "linalg/front.h"

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
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_plan_create(cavum_block_plan *plan, const int64_t *order,
                                     cavum_index num_blocks, const bool *exists,
                                     const int *nominal_size, const cavum_index *element_blocks,
                                     cavum_index num_elements, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_block_plan_clear(cavum_block_plan *plan);

/** Consecutive border rows of a front that are consecutive in its parent. */
typedef struct cavum_row_run {
  cavum_index from, to,
      count; /**< Border rows from .. from + count are rows to .. of the parent. */
} cavum_row_run;

/** A numerical factorisation at one degree. */
typedef struct cavum_block_factor {
  const cavum_block_plan *plan; /**< Borrowed. */
  cavum_index num_rows;
  cavum_index *row_of_block; /**< Owned, [all blocks]: first row in order of elimination, or -1. */
  cavum_index *front_size, *own_size; /**< Owned, [num_supernodes]. */
  int64_t *first_panel;               /**< Owned, [num_supernodes + 1]. */
  double *panels;                     /**< Owned: factorised columns of every front. */
  int64_t *first_row;                 /**< Owned, [num_supernodes + 1]: into rows. */
  cavum_index *rows;                  /**< Owned: border rows of every front. */
  cavum_index *first_run;             /**< Owned, [num_supernodes + 1]: into runs. */
  cavum_row_run *runs;                /**< Owned: where border rows go in the parent's front. */
  double *front, *stack;              /**< Owned workspace. */
  double *x;                          /**< Owned workspace of the solve. */
} cavum_block_factor;

/**
 * Lays out the storage for blocks of given sizes.
 * @param[in] block_size  Shape [all blocks].
 */
cavum_status cavum_block_factor_create(cavum_block_factor *factor, const cavum_block_plan *plan,
                                       const int *block_size, cavum_index all_blocks,
                                       cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_block_factor_clear(cavum_block_factor *factor);

/** Gives the condensed matrix of one element: both triangles, column-major. */
typedef const double *(*cavum_element_source)(void *context, cavum_index element,
                                              int *leading_dimension);

/**
 * Factorises. The source is called once for every element, in the order of assembly; it may compute
 * the matrix on the fly.
 * @param[out] pivots  Negative pivots and safety over all fronts.
 * @param[in]  element_blocks, block_size  As given before; a block of the plan may have size 0.
 * @param[in]  local_size  Rows that each block has in the element matrices, [all blocks].
 */
cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *factor,
                                          const cavum_index *element_blocks, const int *block_size,
                                          const int *local_size, cavum_element_source source,
                                          void *context, cavum_error *error);

/**
 * Solves in place; x in order of elimination (row_of_block), shape [count][stride].
 * @param[in] num_closed  Shape [count]: as many rows at the end are left out of the matrix for that
 *                        side: zero in the solution.
 * @param[in] count       1 to CAVUM_RHS_MOST.
 * @param[in] stride      num_rows or more.
 */
void cavum_block_factor_solve(double *x, cavum_block_factor *factor, const cavum_index *num_closed,
                              int count, cavum_index stride);

/** Negative pivots of the last rows. */
int64_t cavum_block_factor_count_negative(const cavum_block_factor *factor, cavum_index num_last);

#endif
