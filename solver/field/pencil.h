// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file pencil.h
 * The factorised matrix K - shift M under one closure: condensed elements and a sparse skeleton.
 */
#ifndef CAVUM_PENCIL_H
#define CAVUM_PENCIL_H

#include "dense.h"
#include "discretisation.h"
#include "skeleton.h"

/** K - shift M of one discretisation under one closure. */
typedef struct cavum_pencil {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  cavum_closure closure;
  cavum_skeleton skeleton;
  cavum_sparse_factor *factor; /**< Owned. */
  double shift_per_m2;         /**< Of the last factorisation. */
  bool definite;               /**< The last factorisation was positive definite. */
  int64_t num_negative;        /**< Eigenvalues of the pencil below the shift. */
  double *values;              /**< Owned: skeleton matrix. */
  int64_t *first_entry;        /**< Owned, [num_elements + 1]: into interior, in doubles. */
  double *interior;            /**< Owned: factor and coupling of every element. */
  int *pivots;                 /**< Owned, [num_unknowns]: at first_interior of the space. */
  cavum_interior_kind *kind;   /**< Owned, [num_elements]. */
  double *rows;                /**< Owned, [num_rows]: workspace of the solve. */
  double *matrix, *scratch, *work; /**< Owned: workspace of the factorisation. */
} cavum_pencil;

/** Builds the structure under a closure; nothing is factorised yet. */
cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *discretisation,
                                 const cavum_closure *closure, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_pencil_clear(cavum_pencil *pencil);

/** What to do when K - shift M is not positive definite. */
typedef enum cavum_factor_mode {
  CAVUM_FACTOR_DEFINITE_ONLY, /**< Stop, with pencil->definite = false: the shift was too high. */
  CAVUM_FACTOR_ANY            /**< Use LDL^T, which also counts the modes below the shift. */
} cavum_factor_mode;

/**
 * Factorises K - shift M; by Sylvester's law num_negative is then the number of modes below it.
 * @retval CAVUM_OK           also when the matrix is indefinite and only a definite one was wanted.
 * @retval CAVUM_ERR_LIBRARY  the shift is an eigenvalue to working precision.
 */
cavum_status cavum_pencil_factorise(cavum_pencil *pencil, double shift_per_m2,
                                    cavum_factor_mode mode, cavum_error *error);

/**
 * y = (K - shift M)^-1 b in the full space; essential unknowns are zero.
 * @param[out] y  Shape [num_unknowns]; may be b itself.
 */
cavum_status cavum_pencil_solve(double *y, cavum_pencil *pencil, const double *b,
                                cavum_error *error);

/** Sets the essential unknowns (w = 0) of a full vector to zero. */
void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil);

#endif
