// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/mesher.h
 * The state of one run of the mesher, shared by its files.
 */
#ifndef CAVUM_MESHER_MESHER_H
#define CAVUM_MESHER_MESHER_H

#include "mesher/quads.h"

/** One run of the mesher. */
typedef struct cavum_mesher {
  const cavum_contour *contour; /**< Borrowed. */
  cavum_mesh_options options;   /**< All defaults resolved, except largest_size_m. */
  int parts;                    /**< Divisions of every quadrilateral along each side. */
  int num_shrunk;               /**< Places where this attempt lowered the sizes. */
  cavum_size_field field;
  cavum_density density;
  cavum_chain chain;
  cavum_coarse coarse;
  cavum_patches patches;
  cavum_quads quads; /**< Of the attempt under way. */
  cavum_quads best;  /**< Of the best attempt. */
} cavum_mesher;

/**
 * Grades the quadrilaterals of the attempt toward corners and curvature jumps of the contour.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_mesher_grade(cavum_mesher *mesher, cavum_error *error);

#endif
