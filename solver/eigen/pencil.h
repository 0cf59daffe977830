// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/pencil.h
 * The factorised matrix K - shift M under one closure: condensed elements and a block skeleton, at
 * the degree of the discretisation and at up to two degrees below it.
 *
 * Vectors of all levels have the numbering of the discretisation; those of a lower degree have
 * zeros where its functions end.
 */
#ifndef CAVUM_EIGEN_PENCIL_H
#define CAVUM_EIGEN_PENCIL_H

#include "fem/condensed.h"
#include "fem/skeleton.h"
#include "linalg/block_factor.h"

/** The factorised skeleton of one degree. */
typedef struct cavum_pencil_level {
  int degree;
  cavum_index num_rows; /**< Unknowns of the condensed problem. */
  int *block_size; /**< Owned, [2 skeleton->num_blocks]: unknowns of each block, then functions. */
  cavum_block_factor factor;       /**< Of the condensed matrix; see cavum_pencil_lay_out(). */
  cavum_index (*row)[CAVUM_LANES]; /**< Owned, by batch and skeleton function of the discretisation:
                                        row in the condensed matrix, or the spare row at its end;
                                        NULL before it is laid out. */
  int64_t num_negative;            /**< Eigenvalues of the pencil below the shift. */
} cavum_pencil_level;

/** K - shift M of one discretisation under one closure. */
typedef struct cavum_pencil {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  const cavum_skeleton *skeleton;             /**< Borrowed; of the same mesh. */
  struct cavum_pencil *factor_owner; /**< Borrowed: whose factors, without its last rows, serve this
                                  one; NULL when it has its own. */
  int num_levels;
  cavum_pencil_level levels[CAVUM_LEVELS_MOST]; /**< From the highest degree down. */
  double shift_per_m2;                          /**< Of the last factorisation. */
  double asked_per_m2;                          /**< The shift that was asked for. */
  cavum_condensed *condensed;                   /**< Borrowed: of the last factorisation. */
  bool is_lean; /**< Of a large discretisation: all levels share the memory of the highest one, and
                     only `resident` is factorised. */
  int resident; /**< Of a lean pencil. */
  bool is_single;     /**< A lean pencil that was factorised in single precision. */
  bool needs_double;  /**< Its numbers were found to be beyond single precision. */
  int64_t generation; /**< Of the elimination that is factorised. */
  double *rows;       /**< Owned: workspace of the solve, [CAVUM_RHS_MOST] with all places. */
  cavum_lanes *own;   /**< Owned: interior functions of all batches, workspace of the solve. */
} cavum_pencil;

/** Lays out the storage; nothing is factorised yet. */
cavum_status cavum_pencil_create(cavum_pencil *pencil, const cavum_discretisation *discretisation,
                                 const cavum_skeleton *skeleton, int num_levels,
                                 cavum_error *error);

/**
 * The pencil of the closure with w = 0 on the mirror plane, which shares the factors of the one
 * without.
 * @param[in] factor_owner      Has its own factors; must outlive this one and stay where it is.
 * @param[in] skeleton  From cavum_skeleton_create_like() of the factor_owner's.
 */
void cavum_pencil_create_sharing(cavum_pencil *pencil, cavum_pencil *factor_owner,
                                 const cavum_skeleton *skeleton);

/**
 * Lays out the factors of a level and where functions go in them, if that was not done: of a lean
 * pencil it is put off for all but the highest.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_pencil_lay_out(cavum_pencil *pencil, int level, cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_pencil_clear(cavum_pencil *pencil);

/** Frees the factors; products and residuals can still be computed. It has no levels then. */
void cavum_pencil_drop_factors(cavum_pencil *pencil);

/** Rows at the end of the factor_owner's factors that a sharing pencil leaves out at a level. */
cavum_index cavum_pencil_num_closed(const cavum_pencil *pencil, int level);

/** Sets the essential unknowns (w = 0) of a full vector to zero. */
void cavum_pencil_clear_essential(double *x, const cavum_pencil *pencil);

/** y = M x with zeros at the essential unknowns. */
void cavum_pencil_apply_mass(double *y, const cavum_pencil *pencil, const double *x);

/**
 * Products of several vectors, which read the coefficients of a large mesh once.
 * @param[out] mx  Shape [count][num_unknowns]: M x with zeros at the essential unknowns.
 * @param[out] ax  The same of (K - shift M) x, at the shift of the factors; NULL leaves it out.
 * @param[in]  x   Shape [count][num_unknowns].
 */
void cavum_pencil_multiply(double *mx, double *ax, const cavum_pencil *pencil, const double *x,
                           int count);

/** y = (K - shift M) x at the shift of the factors, with zeros at the essential unknowns; mx = M x
 * is at hand. */
void cavum_pencil_apply(double *y, const cavum_pencil *pencil, const double *x, const double *mx);

#endif
