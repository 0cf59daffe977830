// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/block_factorise.h
 * The numerical factorisation: fronts assembled and eliminated one after the other, or
 * subtrees by several threads (base/threads.h), which gives the same bits.
 */
#ifndef CAVUM_LINALG_BLOCK_FACTORISE_H
#define CAVUM_LINALG_BLOCK_FACTORISE_H

#include "linalg/block_factor.h"

/**
 * Gives the condensed matrix of one element: both triangles, column-major. Threads ask at the same
 * time, each with its own `worker`, from 0 to cavum_threads_count() - 1.
 */
typedef const double *(*cavum_element_source)(void *context, cavum_index element, int worker,
                                              int *leading_dimension);

/**
 * Factorises. The source is called once for every element, by each thread in the order of assembly;
 * it may compute the matrix on the fly.
 * @param[out] pivots  Negative pivots and safety over all fronts.
 * @param[in]  element_blocks, block_size  As given before; a block of the plan may have size 0.
 * @param[in]  local_size  Rows that each block has in the element matrices, [all blocks].
 */
cavum_status cavum_block_factor_factorise(cavum_front_pivots *pivots, cavum_block_factor *factor,
                                          const cavum_index *element_blocks, const int *block_size,
                                          const int *local_size, cavum_element_source source,
                                          void *context, cavum_error *error);

#endif
