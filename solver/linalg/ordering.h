// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file linalg/ordering.h
 * Fill-reducing elimination orders; ordering.c is the only file that calls CHOLMOD.
 */
#ifndef CAVUM_LINALG_ORDERING_H
#define CAVUM_LINALG_ORDERING_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/contour.h"
#include "cavum/status.h"

/** A symmetric graph in compressed columns, lower triangle with the diagonal, sorted. */
typedef struct cavum_graph {
  int64_t num_rows;
  int64_t *column_start; /**< [num_rows + 1]. */
  int64_t *row;          /**< [column_start[num_rows]]. */
} cavum_graph;

/**
 * An elimination order that keeps fill low, postordered, by approximate minimum degree.
 * @param[out] order  Shape [num_rows]: order[k] is the row that is eliminated k-th.
 * @param[in]  last   Shape [num_rows]: rows that are to come after all that they are connected to.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_ordering_find(int64_t *order, const cavum_graph *graph, const bool *last,
                                 cavum_error *error);

/**
 * An elimination order by nested dissection (METIS), which pays for itself in fill on large graphs.
 * @param[out] order  Shape [num_rows], as above.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_ordering_dissect(int64_t *order, const cavum_graph *graph, cavum_error *error);

/**
 * Puts an order that was found in some other way into the postorder of its elimination tree, which
 * has the same fill. Of the graph in which the rows of an element are all connected.
 * @param[in,out] order           Shape [num_rows], as above.
 * @param[in]     element_rows    Shape [num_elements][most], -1 beyond the last.
 * @param[in]     exists          Shape [num_rows]: rows that are not are connected to nothing.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_ordering_postorder(int64_t *order, cavum_index num_rows,
                                      const cavum_index *element_rows, cavum_index num_elements,
                                      int most, const bool *exists, cavum_error *error);

#endif
