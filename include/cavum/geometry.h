// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file geometry.h
 * What can be built: figures of the shape of a cell alone, exact from its contour.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_GEOMETRY_H
#define CAVUM_GEOMETRY_H

#include "cavum/cell_key.h"

#ifdef __cplusplus
extern "C" {
#endif

/**
 * Rows: name, key in files, SI unit, long name, definition. Where the key ends in another unit,
 * files have the figure in that. The first four are those of two-ellipse cells, of both halves the
 * smaller.
 */
#define CAVUM_GEOMETRY_TABLE(X)                                                                   \
  X(WALL_ANGLE, "wall_angle_deg", "rad", "wall angle",                                            \
    "lean of the straight wall from the vertical, negative past it")                              \
  X(IRIS_CURVATURE, "iris_curvature_mm", "m", "smallest radius of iris curvature",                \
    "over the part of the iris ellipse that is wall")                                             \
  X(STRAIGHT_LENGTH, "straight_length_mm", "m", "length of the straight wall",                    \
    "between its points of contact with the two ellipses")                                        \
  X(APERTURE_RADIUS, "aperture_radius_mm", "m", "aperture radius", "radius of the narrower iris") \
  X(TOTAL_LENGTH, "total_length_mm", "m", "total length",                                         \
    "of the domain along the axis, with tubes")                                                   \
  X(VOLUME, "volume_m3", "m3", "volume", "of the domain, with tubes")                             \
  X(WALL_AREA, "wall_area_m2", "m2", "wall area", "of the metal, with tubes")

/** Names of the figures, CAVUM_GEOMETRY_WALL_ANGLE first. */
typedef enum cavum_geometry_id {
#define CAVUM_GEOMETRY_ENUM(name, key, unit, long_name, definition) CAVUM_GEOMETRY_##name,
  CAVUM_GEOMETRY_TABLE(CAVUM_GEOMETRY_ENUM)
#undef CAVUM_GEOMETRY_ENUM
      CAVUM_NUM_GEOMETRY_FIGURES
} cavum_geometry_id;

/** Room for figures that later versions add. */
enum { CAVUM_GEOMETRY_ROOM = 24 };

/** What a figure of the shape is; static texts. */
typedef struct cavum_geometry_info {
  const char *key;        /**< Key in files, with the unit there. */
  const char *unit;       /**< SI unit of the value. */
  const char *file_unit;  /**< Unit in files, that of the key. */
  double unit_si;         /**< How many SI units one of that is. */
  const char *long_name;  /**< For people. */
  const char *definition; /**< One line. */
} cavum_geometry_info;

/** Description of a figure; of a number that no figure has, one with the key "unknown". */
CAVUM_API cavum_geometry_info cavum_geometry_describe(cavum_geometry_id id);

/** Figures of a shape with their derivatives. Made by the library; members are appended only. */
typedef struct cavum_geometry {
  double value[CAVUM_GEOMETRY_ROOM];       /**< SI; NAN: the cell has no such. */
  double uncertainty[CAVUM_GEOMETRY_ROOM]; /**< SI: rounding, and what is left of the integrals. */
  int num_dimensions;
  cavum_dimension *dimensions; /**< Owned, shape [num_dimensions], in the order of a cell file. */
  double *slope; /**< Owned, shape [num_dimensions, CAVUM_GEOMETRY_ROOM]: derivatives in SI, the
                    other dimensions fixed; NAN: none, as where two places have the smallest value
                    that change differently. */
  double *slope_uncertainty; /**< Owned, likewise: rounding of the terms that a derivative is the
                                sum of, which may cancel. */
} cavum_geometry;

/** Frees a shape and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_geometry_destroy(cavum_geometry **geometry);

/**
 * Measures the shape of a cell.
 *
 * Volume and area are those of the body of revolution, int pi r^2 dz and int 2 pi r ds along the
 * contour (Guldin's rules), by Gauss rules on pieces that are halved until they agree. Derivatives
 * are those under the integral, with the points of the contour moving as with the dimension.
 *
 * @param[out] geometry  Owned by the caller; untouched unless CAVUM_OK.
 * @param[in]  cell   Read or filled in; not changed.
 * @param[in]  derivatives  Also by every dimension of the cell, as cavum_result_derivative().
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_INPUT     a bad cell, or a mesh file: it has no exact contour.
 * @retval CAVUM_ERR_GEOMETRY  no contour.
 * @retval CAVUM_ERR_USAGE     NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_geometry_measure(cavum_geometry **geometry, const cavum_cell *cell,
                                              bool derivatives, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
