// SPDX-License-Identifier: GPL-3.0-or-later
// A spread by tolerances as JSON: figures under their keys, SI units or those that the key names.
#include "base/base.h"
#include "base/units.h"
#include "cavum/tolerance.h"
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

static bool set_dimensions(json_t *root, const cavum_spread *spread) {
  json_t *list = json_object();
  bool good = set(root, "tolerances", list);
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    const cavum_tolerance *t = &spread->tolerances[j];
    const char *kind = t->kind == CAVUM_TOLERANCE_NORMAL ? "normal" : "uniform";
    good = set(list, t->key,
               json_pack("{s:o, s:s, s:o}", "value", make_number(spread->dimensions[j].value),
                         "kind", kind, "width", make_number(t->width)));
  }
  return good;
}

static bool set_linear(json_t *object, const cavum_figure_spread *f, const cavum_spread *spread,
                       double unit) {
  json_t *shares = json_object();
  bool good = set(object, "deviation", make_number(f->deviation / unit)) &&
              set(object, "linear_holds", json_boolean(!f->is_curved)) &&
              set(object, "departure", make_number(f->departure)) && set(object, "shares", shares);
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    good = set(shares, spread->tolerances[j].key, make_number(f->share[j]));
  }
  return good;
}

static json_t *make_figure(const cavum_figure_spread *f, cavum_figure_id id,
                           const cavum_spread *spread) {
  json_t *object = json_object();
  double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
  bool good = object && set(object, "value", make_number(f->value / unit));
  if (good && f->has_linear) good = set_linear(object, f, spread, unit);
  if (good && f->reason) good = set(object, "reason", json_string(f->reason));
  if (good && !isnan(f->sampled_mean)) {
    good = set(
        object, "sampled",
        json_pack("{s:o, s:o, s:o, s:o}", "mean", make_number(f->sampled_mean / unit), "deviation",
                  make_number(f->sampled_deviation / unit), "low",
                  make_number(f->sampled_low / unit), "high", make_number(f->sampled_high / unit)));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static bool set_figures(json_t *root, const cavum_spread *spread) {
  json_t *figures = json_object();
  bool good = set(root, "figures", figures);
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    const cavum_figure_spread *f = &spread->figures[i];
    if (f->state != CAVUM_FIGURE_PRESENT) continue;
    cavum_figure_id id = (cavum_figure_id)i;
    good = set(figures, cavum_figure_describe(id).key, make_figure(f, id, spread));
  }
  return good;
}

static json_t *make_allowed(const cavum_spread *spread, const double *widths) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    good = set(object, spread->tolerances[j].key, make_number(widths[j]));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

// {FIGURE: {width, factor, alone: {DIMENSION: W}, equal_parts: {DIMENSION: W}}}
static bool set_bands(json_t *root, const cavum_spread *spread, const cavum_spread_band *bands,
                      int count) {
  json_t *list = json_object();
  bool good = set(root, "bands", list);
  for (int i = 0; good && i < count; i++) {
    double alone[CAVUM_TOLERANCES_MOST], shared[CAVUM_TOLERANCES_MOST], factor = NAN;
    cavum_figure_id id = bands[i].figure;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
    json_t *one = json_object();
    good = one && set(one, "width", make_number(bands[i].band / unit));
    if (good && cavum_spread_allow(alone, shared, &factor, spread, id, bands[i].band)) {
      good = set(one, "factor", make_number(factor)) &&
             set(one, "alone", make_allowed(spread, alone)) &&
             set(one, "equal_parts", make_allowed(spread, shared));
    }
    if (good) {
      good = set(list, cavum_figure_describe(id).key, one);
    } else {
      json_decref(one);
    }
  }
  return good;
}

cavum_status cavum_store_spread_bands_to_json(char **text, const cavum_spread *spread,
                                              const cavum_spread_band *bands, int num_bands,
                                              cavum_error *error) {
  if (!text || !spread || (num_bands > 0 && !bands)) return cavum_fail_null(error, __func__);
  json_t *root = json_object();
  bool good = root && set(root, "cavum", json_string(cavum_version())) &&
              set(root, "label", json_string(spread->label)) &&
              set(root, "samples", json_integer(spread->num_samples)) &&
              set(root, "samples_to_check", json_integer(spread->num_pilot)) &&
              set(root, "samples_without_a_shape", json_integer(spread->num_failed)) &&
              set_dimensions(root, spread) && set_figures(root, spread);
  if (num_bands > 0) good = good && set_bands(root, spread, bands, num_bands);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}

cavum_status cavum_store_spread_to_json(char **text, const cavum_spread *spread,
                                        cavum_error *error) {
  return cavum_store_spread_bands_to_json(text, spread, NULL, 0, error);
}
