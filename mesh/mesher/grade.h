// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file mesher/grade.h
 * Geometric grading toward places where the field is not smooth.
 */
#ifndef CAVUM_MESHER_GRADE_H
#define CAVUM_MESHER_GRADE_H

#include "mesher/quads.h"

/**
 * Grades quadrilaterals toward corners and curvature jumps of their contour.
 * @param[in,out] quads    Any quadrilaterals of a contour.
 * @param[in]     options  Resolved; corner_layers and junction_layers are used.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_grade_corners(cavum_quads *quads, const cavum_mesh_options *options,
                                 cavum_error *error);

#endif
