// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file fem/condensed.h
 * K - shift M of every element with its interior functions eliminated, at up to three degrees.
 *
 * The functions of a lower degree are the first of those of a higher one, so the matrix of a lower
 * degree is a part of the element matrix, and eliminating the interior functions in the order of
 * their degrees passes through the condensed matrix of every lower degree on the way to the
 * highest: one elimination condenses all of them.
 */
#ifndef CAVUM_FEM_CONDENSED_H
#define CAVUM_FEM_CONDENSED_H

#include "fem/discretisation.h"
#include "linalg/front.h"

/** Degrees that one elimination can serve: that of the discretisation and the two below. */
enum { CAVUM_LEVELS_MOST = 3 };

/** The elements condensed at one degree. */
typedef struct cavum_condensed_level {
  int degree;
  int interior[2];                   /**< Interior functions of a triangle and a quadrilateral. */
  int row[2][4 * CAVUM_DEGREE_MOST]; /**< Of its skeleton functions among those of the highest. */
  double *schur;        /**< Owned, [num_elements][stride^2]: signs of the global orientation. NULL
                             of a large discretisation: see cavum_condensed_take(). */
  int stride;           /**< 4 degree: leading dimension of each. */
  int64_t num_negative; /**< Negative pivots of all interiors. */
} cavum_condensed_level;

/** Place in cavum_condensed_level.interior of elements with 3 or 4 corners. */
static inline int cavum_condensed_kind(int num_corners) { return num_corners == 4; }

/** All elements condensed. */
typedef struct cavum_condensed {
  const cavum_discretisation *discretisation; /**< Borrowed. */
  double shift_per_m2;                        /**< Of the last elimination. */
  bool eliminated;                            /**< There was one. */
  int64_t generation;                         /**< Counts the eliminations. */
  bool unsafe;                                /**< Elimination let entries grow too much. */
  int num_levels;
  cavum_condensed_level levels[CAVUM_LEVELS_MOST]; /**< From the highest degree down. */
  int64_t *first_matrix;                           /**< Owned, [num_batches]: into matrices. */
  cavum_index *place; /**< Owned, [num_elements], where schur is not kept: batch times CAVUM_LANES,
                           and lane. */
  cavum_lanes *matrices; /**< Owned: packed L D L^T of every batch, columns of the interior. */
} cavum_condensed;

/**
 * Lays out the storage.
 * @param[in] num_levels  1 to CAVUM_LEVELS_MOST; the lowest degree must be 1 or more.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_condensed_create(cavum_condensed *condensed,
                                    const cavum_discretisation *discretisation, int num_levels,
                                    cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_condensed_clear(cavum_condensed *condensed);

/**
 * Assembles and eliminates at a shift, unless the last elimination was at the same shift;
 * condensed->unsafe says whether it can be trusted.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_condensed_eliminate(cavum_condensed *condensed, double shift_per_m2,
                                       cavum_error *error);

/**
 * The matrix of one element at a level, as in cavum_condensed_level.schur, worked out from the
 * eliminated columns: what was taken away on the way to the highest degree is added again.
 * @param[out] schur  Shape [stride^2] of the level.
 */
void cavum_condensed_take(double *restrict schur, const cavum_condensed *condensed, int level,
                          cavum_index element);

#endif
