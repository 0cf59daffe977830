// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/pencil_solve.h
 * Solves with a factorised pencil.
 */
#ifndef CAVUM_EIGEN_PENCIL_SOLVE_H
#define CAVUM_EIGEN_PENCIL_SOLVE_H

#include "eigen/pencil.h"

/** A right-hand side and its solution, under the closure of one pencil. */
typedef struct cavum_pencil_rhs {
  const cavum_pencil *pencil; /**< A factor_owner or its sharing pencil. */
  double *y;                  /**< Shape [num_unknowns]; may be b itself. */
  const double *b;            /**< Likewise. */
} cavum_pencil_rhs;

/**
 * y = (K - shift M)^-1 b at one level; essential unknowns and those above the level are zero.
 * Asks as it goes on whether to stop, and leaves the rest undone when it shall: who uses the
 * solutions asks, too, before that.
 * @param[in] pencil  The factor_owner of all rhs or one of its sharing pencils.
 */
void cavum_pencil_solve_many(cavum_pencil *pencil, int level, const cavum_pencil_rhs *rhs,
                             int count);

/** The same for a single rhs. */
void cavum_pencil_solve(double *y, cavum_pencil *pencil, int level, const double *b);

#endif
