// SPDX-License-Identifier: GPL-3.0-or-later
// Requirements as JSON, in the units of their keys.
#include "store/requirements_json.h"

#include <math.h>

#include "format/json_value.h"

// The keys of what would be missed with what mends one; NULL: no memory.
static json_t *make_broken(const cavum_stored_requirements *all, const cavum_verdict *v,
                           const cavum_cell *cell, const cavum_result *result) {
  json_t *keys = json_array();
  for (int i = 0; keys && i < all->count; i++) {
    const cavum_requirement *other = &all->list[i].requirement;
    if (!cavum_requirement_breaks(other, v, cell, result, 0)) continue;
    if (json_array_append_new(keys, json_string(other->key)) != 0) {
      json_decref(keys);
      keys = NULL;
    }
  }
  return keys;
}

static json_t *make_one(const cavum_stored_requirements *all, const cavum_stored_requirement *of,
                        const cavum_cell *cell, const cavum_result *result) {
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
           cavum_json_set_finite(object, "change", v->change) &&
           cavum_json_set(object, "breaks", make_broken(all, v, cell, result));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

json_t *cavum_requirements_json_make(const cavum_stored_requirements *requirements,
                                     const cavum_cell *cell, const cavum_result *result) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int i = 0; good && i < requirements->count; i++) {
    const cavum_stored_requirement *of = &requirements->list[i];
    good = cavum_json_set(object, of->requirement.key, make_one(requirements, of, cell, result));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}
