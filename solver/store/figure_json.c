// SPDX-License-Identifier: GPL-3.0-or-later
// A figure as JSON.
#include "store/figure_json.h"

#include "base/base.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "format/quantity.h"
#include "store/result_private.h"

static json_t *make_position(const cavum_point *at) {
  return json_pack("{s:f, s:f}", "z", at->z_m, "r", at->r_m);
}

json_t *cavum_figure_json_make(const cavum_figure *figure) {
  json_t *object = json_object();
  bool good = object != NULL;
  if (figure->state == CAVUM_FIGURE_UNBOUNDED) {
    good = good && cavum_json_set(object, "value", json_null()) &&
           cavum_json_set(object, "reason", json_string(CAVUM_STORE_UNBOUNDED_REASON));
  } else {
    good = good && cavum_json_set(object, "value", cavum_json_number(figure->value)) &&
           cavum_json_set(object, "uncertainty", cavum_json_number(figure->uncertainty));
  }
  const char *basis = cavum_basis_word(figure->basis);
  if (*basis) good = good && cavum_json_set(object, "basis", json_string(basis));
  if (figure->has_position)
    good = good && cavum_json_set(object, "at_m", make_position(&figure->at));
  if (good) return object;
  json_decref(object);
  return NULL;
}

cavum_status cavum_figures_json_write(char **text, cavum_error *error) {
  json_t *root = json_object(), *list = json_object();
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "figures", list);
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    cavum_figure_info info = cavum_figure_describe((cavum_figure_id)i);
    const char *unit = cavum_stored_figure_unit_name((cavum_figure_id)i);
    good = cavum_json_set(list, info.key,
                          json_pack("{s:s, s:s, s:s}", "unit", unit, "name", info.long_name,
                                    "definition", info.definition));
  }
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
