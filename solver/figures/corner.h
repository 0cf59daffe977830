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
  cavum_index vertex;
  cavum_point at;
  cavum_boundary before, after; /**< Kinds of the edges that arrive and leave. */
  double interior_rad;          /**< Angle inside the domain, (0, 2 pi]. */
  bool several_materials;       /**< Of different permittivity; what follows is for these. */
  double exponent[2][2]; /**< Of the field (element/sector_exponent.h), by whether w = 0 before and
                              after; nu where one of them is the axis. */
  double turn_rad; /**< How far the side between the materials turns up to the end of its second
                        edge, at least: so much may its direction here be wrong. HUGE_VAL: nothing
                        tells. */
} cavum_boundary_corner;

/**
 * Lists the corners of the boundary of a mesh, by vertex.
 * @param[out] corners  To be freed; untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_corner_list(cavum_boundary_corner **corners, cavum_index *num_corners,
                               const cavum_mesh *mesh, cavum_error *error);

/** Fills in what corners have where several materials meet. */
cavum_status cavum_corner_add_materials(cavum_boundary_corner *corners, cavum_index num_corners,
                                        const cavum_mesh *mesh, cavum_error *error);

/**
 * Exponents of the vertices inside, as in cavum_corner_inner_exponent(); 1 at all others.
 * @param[out] exponent  Shape [num_vertices].
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_corner_inner_exponents(double *exponent, const cavum_mesh *mesh,
                                          cavum_error *error);

/**
 * The smallest exponent of the points inside at which a side between materials turns, or more than
 * two of them meet (element/sector_exponent.h); 1 where there are none. Turns of up to 30 degrees,
 * of 10 between curved elements, count as facets of a curve, as they do on walls.
 * @param[out] exponent  Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_corner_inner_exponent(double *exponent, const cavum_mesh *mesh,
                                         cavum_error *error);

#endif
