// SPDX-License-Identifier: GPL-3.0-or-later
#include "contour/mesh_source.h"

#include "base/base.h"

static bool is_material(double value) {
  return value >= CAVUM_MATERIAL_LEAST && value <= CAVUM_MATERIAL_MOST;
}

static cavum_status check_region(const cavum_region *region, const char *owner, cavum_index index,
                                 cavum_error *error) {
  bool valid =
      region->name && *region->name && is_material(region->eps_r) && is_material(region->mu_r);
  if (valid) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%sregions[%d] '%s': eps_r %g, mu_r %g, expected a name and %g to %g", owner,
                    (int)index, region->name ? region->name : "", region->eps_r, region->mu_r,
                    CAVUM_MATERIAL_LEAST, CAVUM_MATERIAL_MOST);
}

static bool is_outer(cavum_boundary boundary) {
  return boundary == CAVUM_BOUNDARY_METAL || boundary == CAVUM_BOUNDARY_ELECTRIC ||
         boundary == CAVUM_BOUNDARY_MAGNETIC || boundary == CAVUM_BOUNDARY_AXIS;
}

static cavum_status check_boundary(const cavum_boundary_name_map *map, const char *owner,
                                   cavum_index index, cavum_error *error) {
  if (map->name && *map->name && is_outer(map->boundary)) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "%sboundaries[%d] '%s' is %d, expected a name, and METAL, ELECTRIC, MAGNETIC "
                    "or AXIS",
                    owner, (int)index, map->name ? map->name : "", (int)map->boundary);
}

cavum_status cavum_mesh_source_check(const cavum_mesh_source *mesh, const char *owner,
                                     cavum_error *error) {
  if (mesh->axis != 'x' && mesh->axis != 'y' && mesh->axis != 'z') {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%saxis has the code %d, expected 'x', 'y' or 'z'",
                      owner, mesh->axis);
  }
  if (mesh->num_regions < 0 || (mesh->num_regions > 0 && !mesh->regions) ||
      mesh->num_boundaries < 0 || (mesh->num_boundaries > 0 && !mesh->boundaries)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%snum_regions is %d and num_boundaries %d, expected as many as there are in "
                      "the lists",
                      owner, (int)mesh->num_regions, (int)mesh->num_boundaries);
  }
  for (cavum_index i = 0; i < mesh->num_regions; i++) {
    cavum_status status = check_region(&mesh->regions[i], owner, i, error);
    if (status != CAVUM_OK) return status;
  }
  for (cavum_index i = 0; i < mesh->num_boundaries; i++) {
    cavum_status status = check_boundary(&mesh->boundaries[i], owner, i, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}
