// SPDX-License-Identifier: GPL-3.0-or-later
// A search for the best shape as JSON: what it came to, each start, the path of the best.
#include <string.h>

#include "base/base.h"
#include "cavum/optimum.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"

static bool append(json_t *list, json_t *value) { return json_array_append_new(list, value) == 0; }

static bool set_variables(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "dimensions", list);
  for (int j = 0; good && j < o->num_variables; j++) {
    const cavum_optimum_variable *v = &o->variables[j];
    json_t *one =
        json_pack("{s:o, s:o, s:o, s:o, s:i, s:o, s:b}", "before", cavum_json_number(v->before),
                  "value", cavum_json_number(v->value), "low", cavum_json_number(v->low), "high",
                  cavum_json_number(v->high), "at_bound", v->at_bound, "multiplier",
                  cavum_json_number(v->multiplier), "holds_the_frequency", (int)v->is_held);
    good = cavum_json_set(list, v->key, one);
    if (good && v->step > 0.0) good = cavum_json_set(one, "step", cavum_json_number(v->step));
  }
  return good;
}

static bool set_limits(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "limits", list);
  for (int i = 0; good && i < o->num_limits; i++) {
    const cavum_optimum_limit *limit = &o->limits[i];
    good = cavum_json_set(
        list, limit->what.key,
        json_pack("{s:o, s:o, s:o, s:o, s:i, s:o, s:o}", "least",
                  cavum_json_number(limit->what.least), "most", cavum_json_number(limit->what.most),
                  "value", cavum_json_number(limit->value), "uncertainty",
                  cavum_json_number(limit->uncertainty), "active", limit->active, "multiplier",
                  cavum_json_number(limit->multiplier), "broken_by",
                  cavum_json_number(limit->broken_by)));
  }
  return good;
}

static bool set_terms(json_t *root, const cavum_optimum *o) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "objective", list);
  for (int i = 0; good && i < o->num_terms; i++) {
    const cavum_optimum_term *term = &o->terms[i];
    double unit = term->what.unit_si;
    // Keys of figures name their unit, which is not always that of SI.
    if (term->what.kind == CAVUM_REQUIRE_FIGURE) {
      unit = cavum_from_unit(1.0, cavum_stored_figure_unit(term->what.figure));
    }
    good =
        cavum_json_set(list, term->what.key,
                       json_pack("{s:o, s:o, s:o, s:o}", "power", cavum_json_number(term->weight),
                                 "before", cavum_json_number(term->before / unit), "value",
                                 cavum_json_number(term->value / unit), "uncertainty",
                                 cavum_json_number(term->uncertainty / unit)));
  }
  return good;
}

// What tolerances cost; nothing of a nominal best shape.
static bool set_robust(json_t *root, const cavum_optimum *o) {
  const cavum_optimum_robust *r = &o->robust;
  json_t *margins = json_object(), *whole = json_array();
  bool good = margins && whole;
  if (r->kind == CAVUM_ROBUST_NONE) {
    json_decref(margins);
    json_decref(whole);
    return good && (!r->left_out || cavum_json_set(root, "robust_left_out", json_true()));
  }
  for (int peak = 0; good && peak < 2; peak++) {
    cavum_figure_id id = peak == 0 ? CAVUM_FIGURE_EPK_OVER_EACC : CAVUM_FIGURE_BPK_OVER_EACC;
    if (!(r->whole_peaks & 1 << peak)) continue;
    good = json_array_append_new(whole, json_string(cavum_figure_describe(id).key)) == 0;
  }
  for (int i = 0; good && i < o->num_limits; i++) {
    const cavum_optimum_limit *limit = &o->limits[i];
    good = cavum_json_set(margins, limit->what.key, cavum_json_number(limit->margin));
  }
  json_t *robust = json_pack(
      "{s:s, s:o, s:o, s:o, s:o, s:i, s:i, s:o, s:o}", "value", cavum_robust_kind_word(r->kind),
      "deviations", r->kind == CAVUM_ROBUST_WORST ? cavum_json_number(r->deviations) : json_null(),
      "log_objective_nominal", cavum_json_number(r->nominal), "log_objective_nominal_worst",
      cavum_json_number(r->nominal_worst), "violation_nominal",
      cavum_json_number(r->nominal_violation), "passes", r->num_passes, "solves", r->num_solves,
      "margins", margins, "peaks_as_a_whole", whole);
  return cavum_json_set(root, "robust", robust) && good;
}

static bool fill_search(json_t *root, const cavum_optimum *optimum);

// What the freedom of the wall brought; nothing of a wall of two ellipses.
static bool set_free_wall(json_t *root, const cavum_optimum *o) {
  const cavum_optimum_free_wall *w = &o->free_wall;
  if (w->num_points == 0) return true;
  json_t *wall = json_pack(
      "{s:i, s:o, s:o, s:i, s:b, s:s, s:o, s:o, s:o, s:i}", "points", w->num_points,
      "log_objective_two_ellipse", cavum_json_number(w->two_ellipse), "log_objective_start",
      cavum_json_number(w->start), "solves_two_ellipse", w->num_solves, "taken", (int)w->taken,
      "end", cavum_optimum_end_word(w->end), "log_objective", cavum_json_number(w->objective),
      "first_order_residual", cavum_json_number(w->residual), "violation",
      cavum_json_number(w->violation), "solves", w->num_solves_free);
  if (!cavum_json_set(root, "free_wall", wall)) return false;
  if (!w->two_ellipse_search) return true;
  json_t *two_ellipse = json_object();
  return cavum_json_set(wall, "two_ellipse", two_ellipse) &&
         fill_search(two_ellipse, w->two_ellipse_search);
}

static json_t *make_values(const cavum_optimum *o, const double *values) {
  json_t *list = json_array();
  bool good = list != NULL;
  for (int j = 0; good && j < o->num_variables; j++)
    good = append(list, cavum_json_number(values[j]));
  if (good) return list;
  json_decref(list);
  return NULL;
}

static bool set_starts(json_t *root, const cavum_optimum *o) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "starts", list);
  for (int i = 0; good && i < o->num_starts; i++) {
    const cavum_optimum_start *s = &o->starts[i];
    good = append(list, json_pack("{s:s, s:i, s:o, s:o, s:o, s:b, s:o, s:o}", "end",
                                  cavum_optimum_end_word(s->end), "solves", s->num_solves,
                                  "log_objective", cavum_json_number(s->objective), "violation",
                                  cavum_json_number(s->violation), "first_order_residual",
                                  cavum_json_number(s->residual), "best", (int)s->is_best, "first",
                                  make_values(o, s->first), "last", make_values(o, s->last)));
  }
  return good;
}

static bool set_steps(json_t *root, const cavum_optimum *o) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "path", list);
  for (int i = 0; good && i < o->num_steps; i++) {
    const cavum_optimum_step *s = &o->steps[i];
    good = append(list,
                  json_pack("{s:o, s:o, s:o, s:o, s:b, s:o}", "log_objective",
                            cavum_json_number(s->objective), "violation",
                            cavum_json_number(s->violation), "first_order_residual",
                            cavum_json_number(s->residual), "radius", cavum_json_number(s->radius),
                            "accepted", (int)s->accepted, "values", make_values(o, s->values)));
  }
  return good;
}

static json_t *text_or_null(const char *text) { return text[0] ? json_string(text) : json_null(); }

// The piece that vanishes, in SI; null: none does.
static json_t *vanishing_or_null(const cavum_optimum *o) {
  const cavum_optimum_piece *piece = &o->vanishing;
  if (!piece->key[0]) return json_null();
  json_t *object = json_object();
  bool good =
      object && cavum_json_set(object, "piece", json_string(piece->key)) &&
      cavum_json_set(object, "cell",
                     json_string(piece->cell > 0 ? o->others[piece->cell - 1].name : "")) &&
      cavum_json_set(object, "half", json_string(piece->in_right_half ? "right" : "left")) &&
      cavum_json_set(object, "z_m", cavum_json_number(piece->z_m)) &&
      cavum_json_set(object, "r_m", cavum_json_number(piece->r_m)) &&
      cavum_json_set(object, "length_m", cavum_json_number(piece->length_m)) &&
      cavum_json_set(object, "least_length_m", cavum_json_number(piece->least_m));
  if (good) return object;
  json_decref(object);
  return NULL;
}

// Why it is not proven to be the best, and which limits are broken; null where neither is so.
static bool set_broken(json_t *root, const cavum_optimum *o) {
  return cavum_json_set(root, "unproven", text_or_null(o->unproven)) &&
         cavum_json_set(root, "vanishing_piece", vanishing_or_null(o)) &&
         cavum_json_set(root, "broken", text_or_null(o->broken)) &&
         cavum_json_set(root, "rounding_broken", text_or_null(o->rounding_broken)) &&
         cavum_json_set(root, "nominal_broken", text_or_null(o->nominal_broken));
}

static bool fill_search(json_t *root, const cavum_optimum *optimum) {
  const cavum_optimum *o = optimum;
  return set_broken(root, o) &&
         cavum_json_set(root, "first_order_conditions_met", json_boolean(o->met)) &&
         cavum_json_set(root, "within_limits", json_boolean(o->within_limits)) &&
         cavum_json_set(root, "end", json_string(cavum_optimum_end_word(o->end))) &&
         cavum_json_set(root, "not_rounded", json_boolean(o->not_rounded)) &&
         cavum_json_set(root, "rounding_violation", cavum_json_number(o->rounding_violation)) &&
         cavum_json_set(root, "first_order_residual", cavum_json_number(o->residual)) &&
         cavum_json_set(root, "violation", cavum_json_number(o->violation)) &&
         cavum_json_set(root, "solves", json_integer(o->num_solves)) &&
         cavum_json_set(root, "optima", json_integer(o->num_optima)) &&
         cavum_json_set(root, "places_left_out", json_integer(o->num_left_out)) &&
         cavum_json_set(root, "log_objective", cavum_json_number(o->objective)) &&
         cavum_json_set(root, "log_objective_before_rounding",
                        cavum_json_number(o->objective_exact)) &&
         set_terms(root, o) && set_variables(root, o) && set_limits(root, o) &&
         set_robust(root, o) && set_free_wall(root, o) && set_starts(root, o) && set_steps(root, o);
}

cavum_status cavum_store_optimum_to_json(char **text, const cavum_optimum *optimum,
                                         cavum_error *error) {
  if (!text || !optimum) return cavum_fail_null(error, __func__);
  json_t *root = json_object();
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              fill_search(root, optimum);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
