// SPDX-License-Identifier: GPL-3.0-or-later
// Litres and square centimetres; all others as in files.
#include "format/shape_unit.h"

cavum_shape_unit cavum_shape_unit_of(cavum_geometry_id id) {
  if (id == CAVUM_GEOMETRY_VOLUME) return (cavum_shape_unit){"l", 1e-3};
  if (id == CAVUM_GEOMETRY_WALL_AREA) return (cavum_shape_unit){"cm^2", 1e-4};
  if (id == CAVUM_GEOMETRY_WALL_ANGLE) {
    return (cavum_shape_unit){"degree", cavum_geometry_describe(id).unit_si};
  }
  cavum_geometry_info info = cavum_geometry_describe(id);
  return (cavum_shape_unit){info.file_unit, info.unit_si};
}
