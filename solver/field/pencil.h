// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file pencil.h
 * The factorised matrix K - shift M under one closure: condensed elements and a block skeleton.
 */
#ifndef CAVUM_PENCIL_H
#define CAVUM_PENCIL_H

#include "discretisation.h"
#include "skeleton.h"

/** K - shift M of one discretisation under one closure. */
typedef struct cavum_pencil {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  const cavum_skeleton *skeleton;             /**< Borrowed; of the same mesh. */
  int *block_size;                            /**< Owned, [skeleton->num_blocks]. */
  cavum_block_factor factor;                  /**< Of the condensed matrix. */
  double shift_per_m2;                        /**< Of the last factorisation. */
  bool definite;                              /**< The last factorisation was positive definite. */
  int64_t num_negative;                       /**< Eigenvalues of the pencil below the shift. */
  int64_t *first_panel; /**< Owned, [num_elements + 1]: into panels, in doubles. */
  double *panels;       /**< Owned: eliminated interior columns of every element. */
  double *sign;         /**< Owned, [num_elements][4 degree]: orientation of skeleton functions. */
  cavum_index *row;     /**< Owned, [num_elements][4 degree]: row in the condensed matrix or -1. */
  double *rows;         /**< Owned, [factor.num_rows]: workspace of the solve. */
  double *matrix, *scratch; /**< Owned: workspace of the factorisation. */
} cavum_pencil;

/** Lays out the storage; nothing is factorised yet. */
cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *discretisation,
                                 const cavum_skeleton *skeleton, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_pencil_clear(cavum_pencil *pencil);

/**
 * Factorises K - shift M; by Sylvester's law num_negative is then the number of modes below it.
 *
 * There is no pivoting. Where that would be unsafe (the shift is close to an eigenvalue of a
 * leading part) the shift is raised by a few millionths; pencil->shift_per_m2 is the one used.
 *
 * @retval CAVUM_ERR_LIBRARY  no safe shift nearby.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_pencil_factorise(cavum_pencil *pencil, double shift_per_m2, cavum_error *error);

/**
 * y = (K - shift M)^-1 b in the full space; essential unknowns are zero.
 * @param[out] y  Shape [num_unknowns]; may be b itself.
 */
cavum_status cavum_pencil_solve(double *y, cavum_pencil *pencil, const double *b,
                                cavum_error *error);

/** Sets the essential unknowns (w = 0) of a full vector to zero. */
void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil);

#endif
