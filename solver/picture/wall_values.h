// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file picture/wall_values.h
 * A density along the wall: which, where it is known, and its scale.
 */
#ifndef CAVUM_PICTURE_WALL_VALUES_H
#define CAVUM_PICTURE_WALL_VALUES_H

#include "cavum/picture.h"
#include "picture/scene.h"

/** Why a density is not known somewhere. */
typedef struct cavum_wall_gaps {
  bool at_axis;    /**< It has no limit where metal meets the axis. */
  bool at_corner;  /**< Nor at a sharp corner. */
  bool of_mesh;    /**< The elements are too coarse for it. */
  bool one_degree; /**< Nothing tells how well it is known: one degree alone was solved. */
} cavum_wall_gaps;

/** A density of a mode for a picture. */
typedef struct cavum_wall_values {
  const double *values; /**< Borrowed, [num_points]; NULL: the mode has none. */
  bool *known;          /**< Owned, [num_points]: where it is worth a colour. */
  double largest[2];    /**< Known size of those above zero, and below; 0: none. */
  double scale;         /**< The larger of both. */
  bool has_gaps;        /**< It is not known everywhere. */
  cavum_wall_gaps gaps; /**< For which reasons. */
} cavum_wall_values;

/** The density of a mode; NULL: it has none. */
const double *cavum_wall_values_of(const cavum_mode_result *mode, cavum_picture_along_wall what);

/**
 * Takes a density. Where its uncertainty is more than a tenth of the largest on an edge of the mesh
 * and more than a hundredth of the scale it is not known.
 * @param[out] values  Release with cavum_wall_values_clear(), also after a failure.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_wall_values_take(cavum_wall_values *values, const cavum_scene *scene,
                                    cavum_picture_along_wall what, cavum_error *error);

/** Frees what it owns. */
void cavum_wall_values_clear(cavum_wall_values *values);

#endif
