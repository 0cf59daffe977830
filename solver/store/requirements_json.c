// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements as JSON, in the units of their keys.
#include "store/requirements_json.h"

#include <math.h>

#include "format/json_value.h"

static json_t *make_one(const cavum_stored_requirement *of) {
  const cavum_verdict *v = &of->verdict;
  json_t *object = json_object();
  bool good = object && cavum_json_set_finite(object, "least", of->requirement.least) &&
              cavum_json_set_finite(object, "most", of->requirement.most) &&
              cavum_json_set(object, "verdict", json_string(cavum_verdict_word(v->kind)));
  if (v->kind != CAVUM_VERDICT_ABSENT) {
    good = good && cavum_json_set_finite(object, "value", v->value) &&
           cavum_json_set_finite(object, "uncertainty", v->uncertainty) &&
           cavum_json_set_finite(object, "margin", v->margin);
  }
  if (v->dimension[0]) {
    good = good && cavum_json_set(object, "mended_by", json_string(v->dimension)) &&
           cavum_json_set_finite(object, "change", v->change);
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

json_t *cavum_requirements_json_make(const cavum_stored_requirements *requirements) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int i = 0; good && i < requirements->count; i++) {
    const cavum_stored_requirement *of = &requirements->list[i];
    good = cavum_json_set(object, of->requirement.key, make_one(of));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}
