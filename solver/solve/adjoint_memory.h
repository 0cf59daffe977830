// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/adjoint_memory.h
 * What the adjoint solves of one mode leave for those of the next cells, at the highest degree.
 *
 * The vectors of two cells are kept: of the last two, or of those before them where these still
 * serve. Where a cell changes as the one before it did, its
 * adjoint vectors are expected on the straight line through them, as far along as its mode is.
 */
#ifndef CAVUM_SOLVE_ADJOINT_MEMORY_H
#define CAVUM_SOLVE_ADJOINT_MEMORY_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"
#include "eigen/bordered.h"

/** The vectors of one cell, in rows; not all rows are used. */
typedef struct cavum_adjoint_cell {
  double *vectors;                  /**< Owned, [CAVUM_BORDERED_MOST][num_unknowns], the same of
                                         their products with M, and the vector of the mode. */
  bool exists[CAVUM_BORDERED_MOST]; /**< Which rows; none: nothing is known. */
} cavum_adjoint_cell;

/** What they belong to; equal for those that can serve one another. */
typedef struct cavum_adjoint_key {
  int64_t topology; /**< Of the mesh. */
  int degree, mode;
  cavum_index num_unknowns;
} cavum_adjoint_key;

/** All that is kept. */
typedef struct cavum_adjoint_memory {
  cavum_adjoint_cell last, before, next; /**< Next is that of the present cell. */
  cavum_adjoint_key key;
  double contraction_m2; /**< See cavum_bordered_solve_near(). */
  int uses;              /**< How often in turn they were the start. */
} cavum_adjoint_memory;

/** Frees what it owns and empties it; NULL is accepted. */
void cavum_adjoint_memory_clear(cavum_adjoint_memory *memory);

/**
 * Begins a cell: what is kept for another key is dropped, and there is room for its vectors.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_adjoint_memory_begin(cavum_adjoint_memory *memory, const cavum_adjoint_key *key,
                                        cavum_error *error);

/** Row j of the vectors of a cell, or of their products with M. */
double *cavum_adjoint_memory_row(const cavum_adjoint_memory *memory, const cavum_adjoint_cell *cell,
                                 int j, bool product);

/**
 * The cell whose vectors are a start for these rows of the present one: the last, or the line
 * through both in the place of the one before, which is lost. Their sign is that of the mode. NULL:
 * there is none.
 * @param[in] mode  Vector of the mode of the present cell, [num_unknowns].
 */
const cavum_adjoint_cell *cavum_adjoint_memory_start(cavum_adjoint_memory *memory,
                                                     const bool exists[CAVUM_BORDERED_MOST],
                                                     const double *mode);

/** Ends a cell, whose rows were filled: it is the last one now. */
void cavum_adjoint_memory_end(cavum_adjoint_memory *memory, const bool exists[CAVUM_BORDERED_MOST],
                              const double *mode, double contraction_m2, bool was_started);

/**
 * Ends a cell whose start serves again, so that its own rows need no products: where that was on
 * the line through both cells it takes the place of the last.
 * @param[in] from  The start.
 */
void cavum_adjoint_memory_keep(cavum_adjoint_memory *memory, const cavum_adjoint_cell *from,
                               const bool exists[CAVUM_BORDERED_MOST], const double *mode);

#endif
