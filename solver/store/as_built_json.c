// SPDX-License-Identifier: GPL-3.0-or-later
// A measured wall as JSON: SI but for the figures, standard uncertainties, null for what does not
// exist.
#include <math.h>

#include "base/base.h"
#include "base/units.h"
#include "cavum/as_built.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"

/** A key and its number. */
typedef struct number {
  const char *key;
  double value;
} number;

static bool set_numbers(json_t *object, const number *numbers, size_t count) {
  bool good = object != NULL;
  for (size_t i = 0; good && i < count; i++) {
    good = cavum_json_set(object, numbers[i].key, cavum_json_number(numbers[i].value));
  }
  return good;
}

static bool append_numbers(json_t *list, const number *numbers, size_t count) {
  json_t *object = json_object();
  bool good = set_numbers(object, numbers, count);
  return json_array_append_new(list, object) == 0 && good;
}

static bool set_points(json_t *root, const cavum_as_built *b) {
  json_t *places = json_array();
  const number lengths[] = {{"stated_scatter_m", b->stated_scatter_m},
                            {"found_scatter_m", b->found_scatter_m},
                            {"scatter_m", b->scatter_m},
                            {"probe_uncertainty_m", b->probe_uncertainty_m}};
  json_t *points = json_object(), *fit = json_object();
  json_t *shift = json_array(), *tilt = json_array();
  bool good = cavum_json_set(root, "points", points) && cavum_json_set(root, "best_fit", fit) &&
              cavum_json_set(fit, "shift_m", shift) && cavum_json_set(fit, "tilt_rad", tilt) &&
              cavum_json_set(points, "number", json_integer(b->num_points)) &&
              cavum_json_set(points, "used", json_integer(b->num_used)) &&
              cavum_json_set(points, "outliers", json_integer(b->num_outliers)) &&
              cavum_json_set(points, "beyond_ends", json_integer(b->num_beyond)) &&
              set_numbers(points, lengths, sizeof lengths / sizeof *lengths) &&
              cavum_json_set(fit, "shift_uncertainty_m", cavum_json_number(b->shift_uncertainty_m));
  good = cavum_json_set(points, "outlier_places", places) && good;
  for (int64_t i = 0; good && i < b->num_outliers; i++) {
    const cavum_as_built_outlier *o = &b->outliers[i];
    const number place[] = {
        {"z_m", o->z_m}, {"r_m", o->r_m}, {"along_m", o->along_m}, {"distance_m", o->distance_m}};
    good = append_numbers(places, place, sizeof place / sizeof *place);
  }
  for (int k = 0; good && k < 5; k++) {
    good = json_array_append_new(k < 3 ? shift : tilt, cavum_json_number(b->motion[k])) == 0;
  }
  return good;
}

static bool set_figures(json_t *root, const cavum_as_built *b) {
  json_t *figures = json_object();
  bool good = cavum_json_set(root, "figures", figures);
  for (int id = 0; good && id < CAVUM_NUM_FIGURES; id++) {
    const cavum_as_built_figure *f = &b->figures[id];
    if (!f->exists) continue;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
    const number numbers[] = {{"value", f->value / unit},
                              {"numerical_uncertainty", f->numerical / unit},
                              {"drawing", f->drawn / unit},
                              {"change", (f->value - f->drawn) / unit},
                              {"change_by_deviation", f->by_deviation / unit},
                              {"uncertainty", f->uncertainty / unit},
                              {"by_noise", f->by_noise / unit},
                              {"by_probe", f->by_probe / unit},
                              {"sampled", f->sampled / unit},
                              {"sampled_shift", f->sampled_shift / unit}};
    json_t *row = json_object();
    good = cavum_json_set(figures, cavum_figure_describe((cavum_figure_id)id).key, row) &&
           set_numbers(row, numbers, sizeof numbers / sizeof *numbers);
  }
  return good;
}

static bool set_sections(json_t *root, const cavum_as_built *b) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "sections", list);
  for (int k = 0; good && k < b->num_sections; k++) {
    const cavum_as_built_section *s = &b->sections[k];
    const number numbers[] = {{"from_m", s->from_m},
                              {"to_m", s->to_m},
                              {"from_z_m", s->from_z_m},
                              {"from_r_m", s->from_r_m},
                              {"to_z_m", s->to_z_m},
                              {"to_r_m", s->to_r_m},
                              {"deviation_m", s->deviation_m},
                              {"change_Hz", s->change_hz},
                              {"uncertainty_Hz", s->uncertainty_hz}};
    good = append_numbers(list, numbers, sizeof numbers / sizeof *numbers);
  }
  return good;
}

// Those that the points tell of; figures that have no bound.
static bool set_planes(json_t *root, const cavum_as_built *b) {
  static const char *const names[2] = {"left", "right"};
  json_t *planes = json_object(), *unbounded = json_array();
  bool good = cavum_json_set(root, "planes", planes) &&
              cavum_json_set(root, "unbounded", unbounded) &&
              cavum_json_set(root, "accuracy_reached", json_boolean(b->accuracy_reached));
  for (int k = 0; good && k < 2; k++) {
    const cavum_as_built_plane *p = &b->planes[k];
    if (isnan(p->z_m)) continue;
    const number numbers[] = {
        {"z_m", p->z_m}, {"beyond_m", p->beyond_m}, {"uncertainty_m", p->uncertainty_m}};
    json_t *plane = json_object();
    good = cavum_json_set(planes, names[k], plane) &&
           set_numbers(plane, numbers, sizeof numbers / sizeof *numbers) &&
           cavum_json_set(plane, "is_elsewhere", json_boolean(p->is_elsewhere));
  }
  for (int id = 0; good && id < CAVUM_NUM_FIGURES; id++) {
    if (!b->figures[id].unbounded) continue;
    const char *key = cavum_figure_describe((cavum_figure_id)id).key;
    good = json_array_append_new(unbounded, json_string(key)) == 0;
  }
  return good;
}

static bool set_wall(json_t *root, const cavum_as_built *b) {
  const struct {
    const char *key;
    const double *values;
  } columns[] = {{"along_m", b->along_m},
                 {"z_m", b->z_m},
                 {"r_m", b->r_m},
                 {"deviation_m", b->deviation_m},
                 {"deviation_uncertainty_m", b->deviation_uncertainty_m},
                 {"slope_Hz_per_m2", b->slope_hz_per_m2},
                 {"change_Hz_per_m", b->change_hz_per_m}};
  json_t *wall = json_object();
  bool good = cavum_json_set(root, "wall", wall);
  for (size_t k = 0; good && k < sizeof columns / sizeof *columns; k++) {
    json_t *list = json_array();
    good = cavum_json_set(wall, columns[k].key, list);
    for (cavum_index i = 0; good && i < b->num_places; i++) {
      good = json_array_append_new(list, cavum_json_number(columns[k].values[i])) == 0;
    }
  }
  return good;
}

cavum_status cavum_store_as_built_to_json(char **text, const cavum_as_built *built,
                                          cavum_error *error) {
  if (!text || !built) return cavum_fail_null(error, __func__);
  json_t *root = json_object();
  bool good = cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "title", json_string(built->title)) &&
              cavum_json_set(root, "mode", json_integer(built->mode + 1)) &&
              cavum_json_set(root, "label", json_string(built->label)) && set_points(root, built) &&
              cavum_json_set(root, "walls_drawn", json_integer(built->num_draws)) &&
              set_planes(root, built) && set_figures(root, built) && set_sections(root, built) &&
              set_wall(root, built);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
