// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file solve/geometry_uncertainty.h
 * What the geometry of a mesh file leaves uncertain.
 */
#ifndef CAVUM_SOLVE_GEOMETRY_UNCERTAINTY_H
#define CAVUM_SOLVE_GEOMETRY_UNCERTAINTY_H

#include "solve/problem.h"

/**
 * Adds to the uncertainties of a mode what the geometry of a mesh file leaves open.
 *
 * That is a part of the change of a figure between the mesh and its variant. A change that is small
 * by luck counts as half of the relative change of the frequency or of the geometry factor,
 * whichever is larger. The peak of E follows the slope of the wall, which gains one order where
 * integrals gain two: the square root of the part. Against a polygon that peak, infinite at the
 * corners, changes by any amount: it counts as a change by itself.
 *
 * @param[in,out] figures          Shape [CAVUM_NUM_FIGURES], of the mesh.
 * @param[in]     varied           Shape [CAVUM_NUM_FIGURES], of the variant.
 * @param[in]     part             cavum_mesh_geometry_part().
 * @param[in]     against_polygon  The variant has straight sides.
 */
void cavum_geometry_uncertainty_of_mode(cavum_figure *figures, const cavum_figure *varied,
                                        double part, bool against_polygon);

/**
 * The same for all modes of a problem on a mesh file: every figure again on the geometry variant.
 * Does nothing on exact contours.
 */
cavum_status cavum_geometry_uncertainty_add(cavum_problem *problem, cavum_error *error);

#endif
