// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/mode_adjoints.h
 * The adjoint vectors of the numbers of one mode, degree by degree and cell by cell.
 */
#ifndef CAVUM_SOLVE_MODE_ADJOINTS_H
#define CAVUM_SOLVE_MODE_ADJOINTS_H

#include "solve/adjoint.h"
#include "solve/adjoint_memory.h"

/** Numbers that are solved for together: each has a row of its own at all degrees. */
enum { CAVUM_ADJOINT_ROWS = CAVUM_BORDERED_MOST };

/** What the adjoint solves at one degree leave for those at the degrees below it. */
typedef struct cavum_mode_adjoints {
  bool exists[CAVUM_ADJOINT_ROWS];
  double *products[CAVUM_ADJOINT_ROWS]; /**< Borrowed, each [num_unknowns]: of the vectors with M.
                                         */
  double *own;                          /**< Owned: those, where no memory has them. */
  const double
      *mode; /**< Borrowed: the vector of the mode there, [num_unknowns]; NULL: none yet. */
  double contraction; /**< Part of an error that one more solve leaves. */
} cavum_mode_adjoints;

/** Frees what it owns; NULL is accepted. */
void cavum_mode_adjoints_clear(cavum_mode_adjoints *adjoints);

/** What is solved for, and from what. */
typedef struct cavum_mode_adjoints_request {
  cavum_adjoint_mode *mode; /**< Borrowed. */
  cavum_skeletons *mirror;  /**< Of solves in the other symmetry class, to which the mode is turned
                               (cavum_adjoint_turn_to_opposite()); else NULL. */
  const cavum_functional *numbers[CAVUM_ADJOINT_ROWS]; /**< Borrowed; NULL: none in that row. */
  double accuracy;
  cavum_mode_adjoints *known;    /**< Of this mode at a higher degree, or empty: then filled. */
  cavum_adjoint_memory *memory;  /**< Of the cells before, then of this one; NULL: none is kept. */
  double *room;                  /**< Borrowed, [CAVUM_ADJOINT_ROWS][num_unknowns]. */
  double *z[CAVUM_ADJOINT_ROWS]; /**< Out: where the vector of each row is: in the room, or in the
                                    memory. */
  bool solved;                   /**< Out: false where another mode is too close. */
} cavum_mode_adjoints_request;

/** The own symmetry class, and the other one. */
enum { CAVUM_ADJOINT_REQUESTS = CAVUM_BORDERED_TASKS };

/**
 * Solves for those of all rows. At the highest degree from the cells before, where they are near
 * enough; those below it begin with that and are improved once: what is left is a small part of
 * what the two degrees differ by, which is all that they are for. Requests of one mode and degree,
 * in its own class and in the other one, are solved together.
 * @param[in,out] requests  Shape [count].
 * @param[in]     count     At most CAVUM_ADJOINT_REQUESTS.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED
 */
cavum_status cavum_mode_adjoints_solve(cavum_mode_adjoints_request *requests, int count,
                                       cavum_error *error);

#endif
