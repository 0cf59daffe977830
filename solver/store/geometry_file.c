// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape in result files.
#include "store/geometry_file.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

static cavum_status write_number(cavum_hdf5_file *file, const char *path, double value,
                                 double uncertainty, const char *unit, const char *name,
                                 cavum_error *error) {
  const cavum_hdf5_attribute attribute = {
      .name = "uncertainty", .numbers = &uncertainty, .count = 1};
  const cavum_hdf5_array array = {.path = path,
                                  .data = &value,
                                  .units = unit,
                                  .long_name = name,
                                  .attributes = &attribute,
                                  .num_attributes = 1};
  return cavum_hdf5_write_array(file, &array, error);
}

// "mm mm-1" says more than "1": of two lengths.
static cavum_status write_slope(cavum_hdf5_file *file, const cavum_geometry *geometry,
                                int dimension, int id, cavum_error *error) {
  const cavum_dimension *by = &geometry->dimensions[dimension];
  cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
  char path[256], unit[48], name[256];
  double per = by->unit_si / info.unit_si;
  double slope = geometry->slope[dimension * CAVUM_GEOMETRY_ROOM + id];
  bool pure = strcmp(by->unit, "1") == 0;
  if (isnan(slope)) return CAVUM_OK;
  snprintf(path, sizeof path, "/geometry/derivatives/%s/%s", by->key, info.key);
  snprintf(unit, sizeof unit, "%s%s%s%s", info.file_unit, pure ? "" : " ", pure ? "" : by->unit,
           pure ? "" : "-1");
  snprintf(name, sizeof name, "derivative of the %s by %s, other dimensions fixed", info.long_name,
           by->key);
  return write_number(file, path, slope * per,
                      geometry->slope_uncertainty[dimension * CAVUM_GEOMETRY_ROOM + id] * per, unit,
                      name, error);
}

cavum_status cavum_geometry_file_write(cavum_hdf5_file *file, const cavum_geometry *geometry,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int id = 0; id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    char path[64];
    if (isnan(geometry->value[id])) continue;
    snprintf(path, sizeof path, "/geometry/%s", info.key);
    CAVUM_TRY(write_number(file, path, geometry->value[id] / info.unit_si,
                           geometry->uncertainty[id] / info.unit_si, info.file_unit, info.long_name,
                           error));
    for (int i = 0; i < geometry->num_dimensions; i++) {
      CAVUM_TRY(write_slope(file, geometry, i, id, error));
    }
  }
done:
  return status;
}
