// SPDX-License-Identifier: GPL-3.0-or-later
// Figures of the shape as JSON.
#include "store/geometry_json.h"

#include <math.h>

static json_t *make_pair(double value, double uncertainty) {
  return json_pack("{s:f, s:f}", "value", value, "uncertainty", uncertainty);
}

static json_t *make_slopes(const cavum_geometry *geometry, int dimension) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int id = 0; good && id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    double slope = geometry->slope[dimension * CAVUM_GEOMETRY_ROOM + id];
    double per = geometry->dimensions[dimension].unit_si / info.unit_si;
    if (isnan(slope)) continue;
    json_t *pair = make_pair(
        slope * per, geometry->slope_uncertainty[dimension * CAVUM_GEOMETRY_ROOM + id] * per);
    good = json_object_set_new(object, info.key, pair) == 0;
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

json_t *cavum_geometry_json_make(const cavum_geometry *geometry) {
  json_t *object = json_object(), *derivatives = NULL;
  bool good = object != NULL;
  for (int id = 0; good && id < CAVUM_NUM_GEOMETRY_FIGURES; id++) {
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)id);
    if (isnan(geometry->value[id])) continue;
    json_t *pair =
        make_pair(geometry->value[id] / info.unit_si, geometry->uncertainty[id] / info.unit_si);
    good = json_object_set_new(object, info.key, pair) == 0;
  }
  if (good && geometry->num_dimensions > 0) {
    derivatives = json_object();
    good = json_object_set_new(object, "derivatives", derivatives) == 0;
  }
  for (int i = 0; good && i < geometry->num_dimensions; i++) {
    good = json_object_set_new(derivatives, geometry->dimensions[i].key,
                               make_slopes(geometry, i)) == 0;
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}
