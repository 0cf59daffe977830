// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built/built_draws.h
 * Walls as the same points would have given them with another noise.
 */
#ifndef CAVUM_AS_BUILT_BUILT_DRAWS_H
#define CAVUM_AS_BUILT_BUILT_DRAWS_H

#include "as_built/built_sections.h"

/** What is drawn. */
typedef struct cavum_built_draws {
  const cavum_cell *cell; /**< The measured one. */
  int mode, num_draws;
  uint64_t seed;
  const cavum_solve_options *options; /**< Of each solve. */
} cavum_built_draws;

/**
 * Draws walls, solves them, and fills in the standard deviations of the figures; also the
 * uncertainties of those that have none so far. Walls that cannot be are left out.
 * @retval CAVUM_ERR_MEMORY, CAVUM_ERR_STOPPED, CAVUM_ERR_LIBRARY, CAVUM_ERR_INTERNAL
 */
cavum_status cavum_built_draws_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                    const cavum_built_draws *draws, cavum_error *error);

#endif
