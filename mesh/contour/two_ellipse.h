// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour/two_ellipse.h
 * The wall of a two-ellipse cell: an equator ellipse and an iris ellipse joined by a straight line.
 */
#ifndef CAVUM_CONTOUR_TWO_ELLIPSE_H
#define CAVUM_CONTOUR_TWO_ELLIPSE_H

#include "cavum/cell.h"
#include "contour/builder.h"

/** The straight part of a half cell, for the half at z >= 0. */
typedef struct cavum_common_tangent {
  double lean_rad;           /**< From the vertical: > 0 toward the iris, < 0 past vertical. */
  double equator_angle_rad;  /**< Eccentric angle where it leaves the equator ellipse. */
  double iris_angle_rad;     /**< Eccentric angle where it meets the iris ellipse, around -pi. */
  cavum_point equator_point; /**< Where it leaves the equator ellipse. */
  cavum_point iris_point;    /**< Where it meets the iris ellipse. */
  double straight_m;         /**< Its length. */
} cavum_common_tangent;

/**
 * The line that touches both ellipses of a half cell from opposite sides.
 *
 * With D from the equator ellipse's centre to the iris ellipse's, a line of normal (1, m) touches
 * both when
 *
 *     g(m) = D_z + m D_r - sqrt(A^2 + B^2 m^2) - sqrt(a^2 + b^2 m^2) = 0.
 *
 * g is concave and the wall belongs to its largest root, which is the tangent of the lean angle, so
 * m = 0 is a vertical wall and m < 0 one past the vertical: no slope is ever infinite. Newton's
 * iteration from m = L / (R_eq - R_iris), where g < 0, falls monotonically onto that root; if it
 * meets the top of g first there is no root, which is so exactly when the ellipses overlap.
 * The points of contact follow through eccentric angles, atan2(B m, A) and atan2(b m, a) - pi.
 *
 * @param[out] tangent  Untouched unless CAVUM_OK.
 * @param[in]  half     Dimensions.
 * @param[in]  half_name     "left" or "right", for messages.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_GEOMETRY  a dimension is not positive, the iris is not smaller than the
 * equator, or the ellipses overlap.
 */
cavum_status cavum_two_ellipse_tangent(cavum_common_tangent *tangent, const cavum_half_cell *half,
                                       const char *half_name, cavum_error *error);

/** Radius of curvature of an ellipse at an eccentric angle, in m. */
double cavum_ellipse_curvature_radius_m(double axial_m, double radial_m, double angle);

/**
 * Smallest radius of curvature of the iris of a half cell, in m. The wall runs on the iris ellipse
 * from its lowest point, at the eccentric angle -pi/2, to the tangent's, around -pi; the curvature
 * is extreme at the ends and at -pi.
 */
double cavum_two_ellipse_iris_curvature_m(const cavum_half_cell *half,
                                          const cavum_common_tangent *tangent);

/**
 * The closed contour of a two-ellipse cell, counterclockwise from the left end of the axis: axis,
 * right end, wall from right to left, left end. Not yet checked for crossings.
 *
 * @param[in,out] builder  Empty; curves and labels are appended.
 * @param[in]     cell     TWO_ELLIPSE.
 * @param[in]     part     CAVUM_PART_RIGHT ends with the equator plane from the wall to the axis.
 * @param[out]    error    May be NULL.
 */
cavum_status cavum_two_ellipse_build(cavum_contour_builder *builder, const cavum_cell *cell,
                                     cavum_cell_part part, cavum_error *error);

#endif
