// SPDX-License-Identifier: GPL-3.0-or-later
// Results side by side as JSON.
#include "store/compared_json.h"

#include "base/base.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "store/figure_json.h"

static bool set_results(json_t *root, const cavum_compared_results *all) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "compared_results", list);
  for (int k = 0; good && k < all->count; k++) {
    const cavum_mode_result *mode = &all->results[k]->modes[all->modes[k]];
    good = json_array_append_new(
               list, json_pack("{s:s, s:s, s:i, s:s, s:b}", "file", all->paths[k], "title",
                               all->results[k]->title, "mode", all->modes[k] + 1, "label",
                               mode->label, "accuracy_reached", (int)mode->accuracy_reached)) == 0;
  }
  return good;
}

static bool set_inputs(json_t *root, const cavum_compared_results *all) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "inputs", list);
  for (int i = 0; good && i < all->num_inputs; i++) {
    json_t *values = json_array();
    good = cavum_json_set(list, all->input_names[i], values);
    for (int k = 0; good && k < all->count; k++) {
      const char *value = all->input_values[(size_t)i * (size_t)all->count + (size_t)k];
      good = json_array_append_new(values, json_string(value)) == 0;
    }
  }
  return good;
}

static const cavum_figure *figure_of(const cavum_compared_results *all, int k, cavum_figure_id id) {
  return &all->results[k]->modes[all->modes[k]].figures[id];
}

// Of a result from the first; null where one of them has no value.
static json_t *make_difference(const cavum_compared_results *all, int k, cavum_figure_id id) {
  const cavum_figure *a = figure_of(all, 0, id), *b = figure_of(all, k, id);
  double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
  if (a->state != CAVUM_FIGURE_PRESENT || b->state != CAVUM_FIGURE_PRESENT) return json_null();
  return json_pack("{s:o, s:o, s:b}", "value", cavum_json_number((b->value - a->value) / unit),
                   "uncertainty", cavum_json_number(all->uncertainty(a, b) / unit), "significant",
                   (int)all->differ(a, b));
}

static json_t *make_figure(const cavum_compared_results *all, cavum_figure_id id) {
  json_t *object = json_object(), *values = json_array(), *differences = json_array();
  bool good = cavum_json_set(object, "values", values) &&
              cavum_json_set(object, "differences", differences);
  for (int k = 0; good && k < all->count; k++) {
    const cavum_figure *figure = figure_of(all, k, id);
    cavum_figure stored = cavum_stored_figure_make(figure, id);
    good = json_array_append_new(values, figure->state == CAVUM_FIGURE_ABSENT
                                             ? json_null()
                                             : cavum_figure_json_make(&stored)) == 0;
    if (k > 0) good = good && json_array_append_new(differences, make_difference(all, k, id)) == 0;
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static bool set_figures(json_t *root, const cavum_compared_results *all) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "figures", list);
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    bool any = false;
    for (int k = 0; k < all->count; k++) {
      any = any || figure_of(all, k, id)->state != CAVUM_FIGURE_ABSENT;
    }
    if (any) good = cavum_json_set(list, cavum_figure_describe(id).key, make_figure(all, id));
  }
  return good;
}

cavum_status cavum_compared_json_write(char **text, const cavum_compared_results *all,
                                       cavum_error *error) {
  json_t *root = json_object();
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              set_results(root, all) && set_inputs(root, all) && set_figures(root, all);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
