// SPDX-License-Identifier: GPL-3.0-or-later
// A search for the best shape as JSON: what it came to, each start, the path of the best.
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"

// Each setter takes the new value and is true on success.
static bool set(json_t *object, const char *key, json_t *value) {
  return json_object_set_new(object, key, value) == 0;
}

// Numbers that JSON cannot hold are null.
static json_t *make_number(double value) {
  return isfinite(value) ? json_real(value) : json_null();
}

static bool append(json_t *list, json_t *value) { return json_array_append_new(list, value) == 0; }

static bool set_variables(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = set(root, "dimensions", list);
  for (int j = 0; good && j < o->num_variables; j++) {
    const cavum_optimum_variable *v = &o->variables[j];
    json_t *one = json_pack("{s:o, s:o, s:o, s:o, s:i, s:o, s:b}", "before", make_number(v->before),
                            "value", make_number(v->value), "low", make_number(v->low), "high",
                            make_number(v->high), "at_bound", v->at_bound, "multiplier",
                            make_number(v->multiplier), "holds_the_frequency", (int)v->is_held);
    good = set(list, v->key, one);
    if (good && v->step > 0.0) good = set(one, "step", make_number(v->step));
  }
  return good;
}

static bool set_limits(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = set(root, "limits", list);
  for (int i = 0; good && i < o->num_limits; i++) {
    const cavum_optimum_limit *limit = &o->limits[i];
    good = set(list, limit->what.key,
               json_pack("{s:o, s:o, s:o, s:o, s:i, s:o}", "least", make_number(limit->what.least),
                         "most", make_number(limit->what.most), "value", make_number(limit->value),
                         "uncertainty", make_number(limit->uncertainty), "active", limit->active,
                         "multiplier", make_number(limit->multiplier)));
  }
  return good;
}

static bool set_terms(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = set(root, "objective", list);
  for (int i = 0; good && i < o->num_terms; i++) {
    const cavum_optimum_term *term = &o->terms[i];
    double unit = term->what.unit_si;
    // Keys of figures name their unit, which is not always that of SI.
    if (term->what.kind == CAVUM_REQUIRE_FIGURE) {
      unit = cavum_from_unit(1.0, cavum_stored_figure_unit(term->what.figure));
    }
    good = set(list, term->what.key,
               json_pack("{s:o, s:o, s:o, s:o}", "power", make_number(term->weight), "before",
                         make_number(term->before / unit), "value", make_number(term->value / unit),
                         "uncertainty", make_number(term->uncertainty / unit)));
  }
  return good;
}

static json_t *make_values(const cavum_optimum *o, const double *values) {
  json_t *list = json_array();
  bool good = list != NULL;
  for (int j = 0; good && j < o->num_variables; j++) good = append(list, make_number(values[j]));
  if (good) return list;
  json_decref(list);
  return NULL;
}

static bool set_starts(json_t *root, const cavum_optimum *o) {
  json_t *list = json_array();
  bool good = set(root, "starts", list);
  for (int i = 0; good && i < o->num_starts; i++) {
    const cavum_optimum_start *s = &o->starts[i];
    good = append(
        list, json_pack("{s:s, s:i, s:o, s:o, s:o, s:b, s:o, s:o}", "end",
                        cavum_optimum_end_word(s->end), "solves", s->num_solves, "log_objective",
                        make_number(s->objective), "violation", make_number(s->violation),
                        "first_order_residual", make_number(s->residual), "best", (int)s->is_best,
                        "first", make_values(o, s->first), "last", make_values(o, s->last)));
  }
  return good;
}

static bool set_steps(json_t *root, const cavum_optimum *o) {
  json_t *list = json_array();
  bool good = set(root, "path", list);
  for (int i = 0; good && i < o->num_steps; i++) {
    const cavum_optimum_step *s = &o->steps[i];
    good = append(list, json_pack("{s:o, s:o, s:o, s:o, s:b, s:o}", "log_objective",
                                  make_number(s->objective), "violation", make_number(s->violation),
                                  "first_order_residual", make_number(s->residual), "radius",
                                  make_number(s->radius), "accepted", (int)s->accepted, "values",
                                  make_values(o, s->values)));
  }
  return good;
}

cavum_status cavum_store_optimum_to_json(char **text, const cavum_optimum *optimum,
                                         cavum_error *error) {
  if (!text || !optimum) return cavum_fail_null(error, __func__);
  json_t *root = json_object();
  bool good = root && set(root, "cavum", json_string(cavum_version())) &&
              set(root, "first_order_conditions_met", json_boolean(optimum->met)) &&
              set(root, "first_order_residual", make_number(optimum->residual)) &&
              set(root, "violation", make_number(optimum->violation)) &&
              set(root, "solves", json_integer(optimum->num_solves)) &&
              set(root, "optima", json_integer(optimum->num_optima)) &&
              set(root, "log_objective", make_number(optimum->objective)) &&
              set(root, "log_objective_before_rounding", make_number(optimum->objective_exact)) &&
              set_terms(root, optimum) && set_variables(root, optimum) &&
              set_limits(root, optimum) && set_starts(root, optimum) && set_steps(root, optimum);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
