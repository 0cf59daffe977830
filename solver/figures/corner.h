// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file figures/corner.h
 * Corners of the boundary of a mesh.
 */
#ifndef CAVUM_FIGURES_CORNER_H
#define CAVUM_FIGURES_CORNER_H

#include "element/mesh.h"

/** A vertex of the boundary between two edges. */
typedef struct cavum_boundary_corner {
  cavum_point at;
  cavum_boundary before, after; /**< Kinds of the edges that arrive and leave. */
  double interior_rad;          /**< Angle inside the domain, (0, 2 pi]. */
} cavum_boundary_corner;

/**
 * Lists the corners of the boundary of a mesh, by vertex.
 * @param[out] corners  To be freed; untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_corner_list(cavum_boundary_corner **corners, cavum_index *num_corners,
                               const cavum_mesh *mesh, cavum_error *error);

#endif
