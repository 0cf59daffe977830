// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements as JSON, in the units of their keys.
#include "store/requirements_json.h"

#include <math.h>

#include "format/json_value.h"

// Numbers that JSON cannot hold are left out: no bound, no value.
static bool set_number(json_t *object, const char *key, double value) {
  return !isfinite(value) || cavum_json_set(object, key, json_real(value));
}

static json_t *make_one(const cavum_stored_requirement *of) {
  const cavum_verdict *v = &of->verdict;
  json_t *object = json_object();
  bool good = object && set_number(object, "least", of->requirement.least) &&
              set_number(object, "most", of->requirement.most) &&
              cavum_json_set(object, "verdict", json_string(cavum_verdict_word(v->kind)));
  if (v->kind != CAVUM_VERDICT_ABSENT) {
    good = good && set_number(object, "value", v->value) &&
           set_number(object, "uncertainty", v->uncertainty) &&
           set_number(object, "margin", v->margin);
  }
  if (v->dimension[0]) {
    good = good && cavum_json_set(object, "mended_by", json_string(v->dimension)) &&
           set_number(object, "change", v->change);
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
