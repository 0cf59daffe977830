// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file format/shape_unit.h
 * Units in which people read the figures of a shape: a litre is easier to read than 0.0026 m^3.
 */
#ifndef CAVUM_FORMAT_SHAPE_UNIT_H
#define CAVUM_FORMAT_SHAPE_UNIT_H

#include "cavum/geometry.h"

/** A unit of tables, which that of files may differ from. */
typedef struct cavum_shape_unit {
  const char *name; /**< Static: "l", "cm^2", "mm", "degree". */
  double unit_si;   /**< How many SI units one of that is. */
} cavum_shape_unit;

/** That of a figure of a shape. */
cavum_shape_unit cavum_shape_unit_of(cavum_geometry_id id);

#endif
