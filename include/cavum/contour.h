// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file contour.h
 * The exact outline of a half plane (z along the axis, r the radius): curves and closed contours.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_CONTOUR_H
#define CAVUM_CONTOUR_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Index of vertices, edges, elements, unknowns. */
typedef int32_t cavum_index;

/** A point of the half plane. */
typedef struct cavum_point {
  double z_m; /**< Position along the axis in metres. */
  double r_m; /**< Distance from the axis in metres, never negative inside a domain. */
} cavum_point;

/** What bounds the domain. The two symmetry kinds in use are chosen when a system is solved. */
typedef enum cavum_boundary {
  CAVUM_BOUNDARY_NONE = 0,     /**< Inside the domain. */
  CAVUM_BOUNDARY_METAL = 1,    /**< Tangential E = 0; counts in wall losses and the peak search. */
  CAVUM_BOUNDARY_ELECTRIC = 2, /**< Tangential E = 0, lossless, not searched for peaks. */
  CAVUM_BOUNDARY_MAGNETIC = 3, /**< Tangential H = 0. */
  CAVUM_BOUNDARY_AXIS = 4,     /**< r = 0. */
  CAVUM_BOUNDARY_SYMMETRY =
      5 /**< Mirror plane of a half model: solved as electric and as magnetic. */
} cavum_boundary;

/** Word for a boundary kind, as in cell files: "metal", ..., "symmetry", else "unknown"; static. */
CAVUM_API const char *cavum_boundary_name(cavum_boundary boundary);

/** Form of a curve. */
typedef enum cavum_curve_kind {
  CAVUM_CURVE_LINE = 0, /**< Straight from start to end. */
  CAVUM_CURVE_ELLIPSE =
      1, /**< Arc of an ellipse with half axes along z and r; a circle when equal. */
  CAVUM_CURVE_CUBIC = 2,               /**< One cubic span of a spline. */
  CAVUM_CURVE_PARALLEL_OF_ELLIPSE = 3, /**< An ellipse moved along its normals, and stretched. */
  CAVUM_CURVE_PARALLEL_OF_CUBIC = 4    /**< The same of a cubic. */
} cavum_curve_kind;

/**
 * One smooth piece of a contour, run through by t from 0 (start) to 1 (end).
 *
 * Ellipse: point = centre + (axial_m cos a, radial_m sin a) with the eccentric angle
 * a = angle_start_rad + t (angle_end_rad - angle_start_rad); the arc turns left (counterclockwise)
 * when angle_end_rad > angle_start_rad. Cubic: point = sum_k cubic[k] t^k.
 * start and end are exact copies of the neighbours' end points.
 *
 * Parallels: the curve of an ellipse or a cubic, moved to the right of travel along its normals by
 * an offset and then stretched along z about z = 0 by a part, layer after layer. A parallel of an
 * ellipse has four layers {offset_m, part} in cubic[0] to cubic[3]; one of a cubic has three, in
 * centre, {axial_m, radial_m} and {angle_start_rad, angle_end_rad}. Layers of zeros do nothing.
 */
typedef struct cavum_curve {
  cavum_curve_kind kind;
  cavum_boundary boundary;
  cavum_point start, end;
  cavum_point centre;                    /**< Ellipse, and its parallels. */
  double axial_m, radial_m;              /**< Ellipse only: half axes along z and along r. */
  double angle_start_rad, angle_end_rad; /**< Ellipse only: eccentric angles. */
  cavum_point cubic[4];                  /**< Cubic only: coefficients of 1, t, t^2, t^3. */
} cavum_curve;

/** Point of a curve at t in [0, 1]; t = 0 and t = 1 give start and end exactly. */
CAVUM_API cavum_point cavum_curve_point(const cavum_curve *curve, double t);

/** d(point)/dt at t. */
CAVUM_API cavum_point cavum_curve_derivative(const cavum_curve *curve, double t);

/** Both at once, to the bit, for half the price on an ellipse; NULL: not wanted. */
CAVUM_API void cavum_curve_at(cavum_point *point, cavum_point *derivative, const cavum_curve *curve,
                              double t);

/** d2(point)/dt2 at t. */
CAVUM_API cavum_point cavum_curve_second_derivative(const cavum_curve *curve, double t);

/** Arc length of the piece between t0 and t1 (t0 < t1) in metres, to a relative 1e-12 or better. */
CAVUM_API double cavum_curve_length(const cavum_curve *curve, double t0, double t1);

/**
 * A closed outline, run through with the inside on the left (counterclockwise, z to the right).
 * The end of each curve is the start of the next, the last closes on the first.
 */
typedef struct cavum_contour {
  cavum_index num_curves;
  cavum_curve *curves; /**< Owned, shape [num_curves]. */
} cavum_contour;

/** Frees the curves and empties the contour; NULL is accepted. */
CAVUM_API void cavum_contour_clear(cavum_contour *contour);

#ifdef __cplusplus
}
#endif
#endif
