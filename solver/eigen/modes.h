// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/modes.h
 * Eigenmodes of one pencil, and how many there are below a bound.
 */
#ifndef CAVUM_EIGEN_MODES_H
#define CAVUM_EIGEN_MODES_H

#include "eigen/pencil.h"

/** Modes of one discretisation and closure, by rising k^2; the static mode is not among them. */
typedef struct cavum_modes {
  int count;
  cavum_index num_unknowns;
  double *k2_per_m2;       /**< Owned, [count]. */
  double *vector_error;    /**< Owned, [count]: relative, what the iteration left, with a margin. */
  double *accuracy_factor; /**< Owned, [count]: how much more accurate a vector has to be than
                                others because of what is made of it; 1 unless set. */
  double *vectors;         /**< Owned, [count][num_unknowns], x^T M x = 1. */
} cavum_modes;

/** Shift over the k^2 of the last mode that is improved: the factorisation then counts them. */
#define CAVUM_SHIFT_ABOVE 1.01

/** Zeroed modes. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_modes_allocate(cavum_modes *modes, int count, cavum_index num_unknowns,
                                  cavum_error *error);

/** Copies all of modes but their vectors to the same places of others. */
void cavum_modes_copy_numbers(cavum_modes *to, const cavum_modes *from, int first, int count);

/** Copies modes to the same places of others with as many unknowns. */
void cavum_modes_copy(cavum_modes *to, const cavum_modes *from, int first, int count);

/** Frees the modes; NULL is accepted. */
void cavum_modes_clear(cavum_modes *modes);

/** True when the problem owns the static mode H_phi = 1/r: a ring domain with no magnetic edge. */
bool cavum_modes_has_static(const cavum_pencil *pencil);

/**
 * The lowest modes.
 *
 * The shift lies below them all: a prediction from guess when there is one (lowered until the
 * matrix is positive definite), else zero, or a negative one where the static mode makes zero an
 * eigenvalue.
 *
 * @param[out] modes   Untouched unless CAVUM_OK.
 * @param[in]  pencil, condensed  Workspace; left factorised at the shift used.
 * @param[in]  count   Modes wanted; fewer are returned only if the space is smaller.
 * @param[in]  guess   Modes of a lower degree, embedded, or NULL: gives the shift and the start.
 * @param[in]  tolerance  Of the iteration, relative, on the inverted eigenvalues.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_modes_find_lowest(cavum_modes *modes, cavum_pencil *pencil,
                                     cavum_condensed *condensed, int count,
                                     const cavum_modes *guess, double tolerance,
                                     cavum_error *error);

/**
 * The lowest mode to a few digits at the lowest degree of the pencil, by inverse iteration with no
 * shift from a smooth start; not for problems with a static mode.
 */
cavum_status cavum_modes_find_roughly(cavum_modes *mode, cavum_pencil *pencil,
                                      cavum_condensed *condensed, cavum_error *error);

/**
 * Fits k^2 of modes of a neighbouring shape: of the mode `last` and the one after it to the
 * Rayleigh quotients of their vectors, of the others in proportion. The errors of the vectors are
 * not known then: 1.
 */
cavum_status cavum_modes_measure(cavum_modes *modes, int last, const cavum_pencil *pencil,
                                 cavum_error *error);

/**
 * Improves a guess of the lowest mode by inverse iteration, at all levels of the pencil.
 *
 * The number of modes below the shift must come out as the guess says; otherwise, or when the
 * iteration does not settle, nothing is returned and the modes have to be found anew. The
 * shift lies 1 % above the mode: num_negative of a level then certifies that there is no other
 * below.
 *
 * @param[out] modes      Shape [pencil->num_levels], filled only when settled.
 * @param[out] settled    Whether it worked out.
 * @param[in]  pencil, condensed  Workspace; left factorised.
 * @param[in]  guess      One mode, the lowest of the class: of a lower degree, embedded, or of a
 *                        neighbouring shape.
 * @param[in]  accuracy   Relative error of the vectors that is small enough, times the factor of
 *                        the guess.
 */
cavum_status cavum_modes_improve(cavum_modes *modes, bool *settled, cavum_pencil *pencil,
                                 cavum_condensed *condensed, const cavum_modes *guess,
                                 double accuracy, cavum_error *error);

/** The modes nearest to a given k^2; otherwise like cavum_modes_find_lowest(). */
cavum_status cavum_modes_find_near(cavum_modes *modes, cavum_pencil *pencil,
                                   cavum_condensed *condensed, int count, double k2_per_m2,
                                   const cavum_modes *guess, double tolerance, cavum_error *error);

/** Number of modes, without the static one, with k^2 below a bound; refactorises the pencil. */
cavum_status cavum_modes_count_below(int64_t *count, cavum_pencil *pencil,
                                     cavum_condensed *condensed, double k2_per_m2,
                                     cavum_error *error);

/** |K x - k^2 M x| / (k^2 |M x|) over the unknowns that are not essential. */
cavum_status cavum_modes_residual(double *residual, const cavum_modes *modes, int index,
                                  const cavum_pencil *pencil, cavum_error *error);

/** Embeds modes of another degree or of a mesh with the same topology: cavum_space_embed(). */
cavum_status cavum_modes_embed(cavum_modes *high, const cavum_space *high_space,
                               const cavum_modes *low, const cavum_space *low_space,
                               cavum_error *error);

#endif
