// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file element/mesh_quality.h
 * The range of the Jacobian of one element.
 */
#ifndef CAVUM_ELEMENT_MESH_QUALITY_H
#define CAVUM_ELEMENT_MESH_QUALITY_H

#include "cavum/mesh.h"

/**
 * Smallest and largest det J of an element, in m^2 per unit of the reference element, over a
 * lattice of points that contains the corners and edges: twice as fine as the nodes, or 17 x 17
 * points of a blended element. Exact for elements whose nodes lie where the corners alone would put
 * them.
 */
void cavum_mesh_quality_jacobian_range(double *smallest, double *largest, const cavum_mesh *mesh,
                                       cavum_index element);

#endif
