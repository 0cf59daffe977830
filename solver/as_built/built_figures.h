// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file as_built/built_figures.h
 * What deviation and uncertainties of a wall do to each figure, by the densities along it.
 */
#ifndef CAVUM_AS_BUILT_BUILT_FIGURES_H
#define CAVUM_AS_BUILT_BUILT_FIGURES_H

#include "as_built/built_sections.h"

/** Two solved walls. */
typedef struct cavum_solved_pair {
  const cavum_cell *cell; /**< The measured one. */
  const cavum_mode_result *drawn, *built;
  double accelerating_length_m; /**< Of the measured one, where it is stated; 0: it goes with f. */
} cavum_solved_pair;

/**
 * Fills the figures that have a derivative by the wall; the others get their values.
 * @param[in,out] made    Zeroed figures.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
cavum_status cavum_built_figures_fill(cavum_as_built *made, const cavum_built_pair *pair,
                                      const cavum_solved_pair *solved, cavum_error *error);

#endif
