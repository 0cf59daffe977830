// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file eigen/modes.h
 * Modes of one pencil: storage, quotients and residuals of their vectors, and how many there are
 * below a bound.
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

/** Modes with zeroed numbers and no vectors yet. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_modes_allocate_numbers(cavum_modes *modes, int count, cavum_index num_unknowns,
                                          cavum_error *error);

/** Zeroed modes. @retval CAVUM_ERR_MEMORY */
cavum_status cavum_modes_allocate(cavum_modes *modes, int count, cavum_index num_unknowns,
                                  cavum_error *error);

/** Copies all of modes but their vectors to the same places of others. */
void cavum_modes_copy_numbers(cavum_modes *to, const cavum_modes *from, int first, int count);

/** Copies modes to the same places of others with as many unknowns. */
void cavum_modes_copy(cavum_modes *to, const cavum_modes *from, int first, int count);

/** Frees the modes; NULL is accepted. */
void cavum_modes_clear(cavum_modes *modes);

/** How far apart two k^2 are as frequencies are: the difference of their k, 1/m. The static mode
 * may be below zero by rounding. */
double cavum_modes_distance(double k2_per_m2, double other_per_m2);

/** True when the problem owns the static mode H_phi = 1/r: a ring domain with no magnetic edge. */
bool cavum_modes_has_static(const cavum_pencil *pencil);

/**
 * Fits k^2 of modes of a neighbouring shape: of the mode `last` and the one after it to the
 * Rayleigh quotients of their vectors, of the others in proportion. The errors of the vectors are
 * not known then: 1.
 */
cavum_status cavum_modes_measure(cavum_modes *modes, int last, const cavum_pencil *pencil,
                                 cavum_error *error);

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
