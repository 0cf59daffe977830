// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/block_factor.h
 * Multifrontal L D L^T of the condensed matrix, in blocks of vertices and edges.
 *
 * Numerically each supernode of the plan is one dense front [Liu1992]. block_factorise.h fills the
 * factors, block_solve.h uses them.
 */
#ifndef CAVUM_LINALG_BLOCK_FACTOR_H
#define CAVUM_LINALG_BLOCK_FACTOR_H

#include <stdbool.h>
#include <stddef.h>

#include "linalg/block_plan.h"
#include "linalg/front.h"

/** Consecutive border rows of a front that are consecutive in its parent. */
typedef struct cavum_row_run {
  cavum_index from, to,
      count; /**< Border rows from .. from + count are rows to .. of the parent. */
} cavum_row_run;

/** Borders of fronts wait on two stacks, so that those of children are on another one than that of
 * their parent, which is made while they are still there. */
enum { CAVUM_STACKS = 2 };

/** The stacks: where memory is, and how much of it. */
typedef struct cavum_front_stacks {
  int64_t before;             /**< Numbers before the first border, of rows that it leaves out. */
  int64_t most[CAVUM_STACKS]; /**< Numbers that are on a stack at a time. */
  void *memory[CAVUM_STACKS]; /**< Of the whole factorisation or of a subtree. */
} cavum_front_stacks;

/** Allocates stacks of the sizes of others, for numbers of a size; false when memory runs out. */
bool cavum_front_stacks_allocate(cavum_front_stacks *stacks, const cavum_front_stacks *sizes,
                                 size_t number_size);

/** Frees their memory. */
void cavum_front_stacks_free(cavum_front_stacks *stacks);

/**
 * A part of the elimination tree that is a good share of the work and needs no other part. Where
 * there are such parts, solves sum up what each adds to the rows of its ancestors by itself, in
 * places behind all rows, so that threads may work on them at once and give the same bits as one.
 */
typedef struct cavum_subtree {
  cavum_index first, end;    /**< Supernodes; the last one is its root. */
  cavum_index first_row;     /**< Of its own, in order of elimination. */
  cavum_index place, count;  /**< Where in x the border of its root is kept, and rows of that. */
  int64_t most_front;        /**< Leading dimension of its largest front. */
  cavum_front_stacks stacks; /**< Sizes for its factorisation. */
} cavum_subtree;

/** A numerical factorisation at one degree. */
typedef struct cavum_block_factor {
  const cavum_block_plan *plan; /**< Borrowed. */
  cavum_index num_rows;
  cavum_index *row_of_block; /**< Owned, [all blocks]: first row in order of elimination, or -1. */
  cavum_index *front_size, *own_size; /**< Owned, [num_supernodes]. */
  int64_t *first_panel;               /**< Owned, [num_supernodes + 1]. */
  void *panels;                       /**< Owned: factorised columns of every front. */
  int lanes;                          /**< Leading dimensions of fronts are multiples of this. */
  bool is_single;                     /**< Panels and stacks have numbers of single precision. */
  int64_t *first_row;                 /**< Owned, [num_supernodes + 1]: into rows. */
  cavum_index *rows;                  /**< Owned: border rows of every front; in subtrees, of those
                                           of ancestors the places. */
  cavum_index *first_run;             /**< Owned, [num_supernodes + 1]: into runs. */
  cavum_row_run *runs;                /**< Owned: where border rows go in the parent's front. */
  cavum_index num_subtrees;           /**< 0 of small ones. */
  cavum_subtree *subtrees;            /**< Owned, in order of elimination. */
  cavum_index *subtree_rows;          /**< Owned: of the places behind all rows. */
  cavum_index num_places; /**< Of a vector that is solved for: the rows, a spare one for whom it may
                               concern, places of the subtrees. */
  unsigned char *stack_of;   /**< Owned, [num_supernodes]: where the border of a front waits. */
  cavum_front_stacks stacks; /**< Owned workspace. */
  int64_t most_front;        /**< Leading dimension of the largest front. */
  double *x;                 /**< Owned workspace of the solve. */
  bool is_guest;             /**< panels, stacks and x belong to another one. */
} cavum_block_factor;

/**
 * Lays out the storage for blocks of given sizes.
 * @param[in] block_size  Shape [all blocks].
 */
cavum_status cavum_block_factor_create(cavum_block_factor *factor, const cavum_block_plan *plan,
                                       const int *block_size, cavum_index all_blocks,
                                       cavum_error *error);

/**
 * The same without memory for numbers, which cavum_block_factor_take_memory() gives it before every
 * factorisation.
 */
cavum_status cavum_block_factor_lay_out(cavum_block_factor *factor, const cavum_block_plan *plan,
                                        const int *block_size, cavum_index all_blocks,
                                        cavum_error *error);

/**
 * Gives a factorisation that was laid out the memory of another one of the same plan, whose blocks
 * are as large or larger, or its own: only the one that was factorised last can be used.
 * @param[in,out] host       Must outlive it; its memory is allocated, anew where it was for another
 *                           precision.
 * @param[in]     is_single  Numbers of single precision: half the memory and the time, and
 * solutions that are good to some 1e-4.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_block_factor_take_memory(cavum_block_factor *factor, cavum_block_factor *host,
                                            bool is_single, cavum_error *error);

/** Size of a number of the factors, bytes. */
static inline size_t cavum_block_factor_number_size(const cavum_block_factor *factor) {
  return factor->is_single ? sizeof(float) : sizeof(double);
}

/** The front of a supernode with its border at a place: own columns are where they stay. */
static inline cavum_dense_front cavum_block_factor_front(const cavum_block_factor *f,
                                                         cavum_index supernode, void *border) {
  size_t first = (size_t)f->first_panel[supernode] * cavum_block_factor_number_size(f);
  return cavum_front_in((char *)f->panels + first, border, f->front_size[supernode],
                        f->own_size[supernode], f->lanes, f->is_single);
}

/** Frees what it owns; NULL is accepted. */
void cavum_block_factor_clear(cavum_block_factor *factor);

#endif
