// SPDX-License-Identifier: GPL-3.0-or-later
// A tuning as JSON.
#include "store/tune_json.h"

#include "base/base.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "store/figure_json.h"

static bool set_dimensions(json_t *root, const cavum_tune_outcome *outcome,
                           const cavum_tune_plan *plan) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "dimensions", list);
  for (int j = 0; good && j < outcome->num_dimensions; j++) {
    good = cavum_json_set(
        list, plan->dimensions[j].key,
        json_pack("{s:o, s:o}", "before", cavum_json_number(outcome->values_before[j]), "after",
                  cavum_json_number(outcome->values_after[j])));
  }
  return good;
}

static bool set_aims(json_t *root, const cavum_tune_plan *plan) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "aims", list);
  for (int i = 0; good && i < plan->num_aims; i++) {
    cavum_figure_id id = plan->aims[i].figure;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
    good = cavum_json_set(list, cavum_figure_describe(id).key,
                          cavum_json_number(plan->aims[i].value / unit));
  }
  for (int i = 0; good && i < plan->num_shape_aims; i++) {
    cavum_geometry_info info = cavum_geometry_describe(plan->shape_aims[i].figure);
    good =
        cavum_json_set(list, info.key, cavum_json_number(plan->shape_aims[i].value / info.unit_si));
  }
  return good;
}

// {FIGURE: {before: {value, uncertainty}, after: {...}}}; a side without the figure has none.
static bool set_figures(json_t *root, const cavum_tune_outcome *outcome,
                        const cavum_tune_plan *plan) {
  static const char *const names[2] = {"before", "after"};
  const cavum_result *const sides[2] = {outcome->before, outcome->after};
  json_t *list = json_object();
  bool good = cavum_json_set(root, "figures", list);
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_id id = (cavum_figure_id)i;
    json_t *one = json_object();
    good = one != NULL;
    for (int k = 0; good && k < 2; k++) {
      const cavum_figure *figure = &sides[k]->modes[plan->mode].figures[id];
      if (figure->state == CAVUM_FIGURE_ABSENT) continue;
      cavum_figure stored = cavum_stored_figure_make(figure, id);
      good = cavum_json_set(one, names[k], cavum_figure_json_make(&stored));
    }
    if (good && json_object_size(one) > 0) {
      good = cavum_json_set(list, cavum_figure_describe(id).key, one);
    } else {
      json_decref(one);
    }
  }
  return good;
}

cavum_status cavum_tune_json_write(char **text, const cavum_tune_outcome *outcome,
                                   const cavum_tune_plan *plan, cavum_error *error) {
  json_t *root = json_object();
  const cavum_mode_result *mode = &outcome->after->modes[plan->mode];
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "title", json_string(outcome->after->title)) &&
              cavum_json_set(root, "mode", json_integer(plan->mode + 1)) &&
              cavum_json_set(root, "label", json_string(mode->label)) &&
              cavum_json_set(root, "aims_met", json_boolean(outcome->met)) &&
              cavum_json_set(root, "accuracy_reached", json_boolean(mode->accuracy_reached)) &&
              cavum_json_set(root, "solves", json_integer(outcome->num_solves)) &&
              set_aims(root, plan) && set_dimensions(root, outcome, plan) &&
              set_figures(root, outcome, plan);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
