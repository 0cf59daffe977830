// SPDX-License-Identifier: GPL-3.0-or-later
// A spread by tolerances as JSON: figures under their keys, SI units or those that the key names.
#include "base/base.h"
#include "base/units.h"
#include "cavum/tolerance.h"
#include "design/spread.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "format/spread_text.h"

static bool set_dimensions(json_t *root, const cavum_spread *spread) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "tolerances", list);
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    const cavum_tolerance *t = &spread->tolerances[j];
    const char *kind = t->kind == CAVUM_TOLERANCE_NORMAL ? "normal" : "uniform";
    good = cavum_json_set(
        list, t->key,
        json_pack("{s:o, s:s, s:o}", "value", cavum_json_number(spread->dimensions[j].value),
                  "kind", kind, "width", cavum_json_number(t->width)));
  }
  return good;
}

// [{of: [A, B], coefficient: C}, ...], as in the file of the tolerances.
static bool set_correlations(json_t *root, const cavum_spread *spread) {
  int n = spread->num_dimensions;
  json_t *list = json_array();
  bool good = cavum_json_set(root, "correlations", list);
  for (int i = 0; good && i < n; i++) {
    for (int k = i + 1; good && k < n; k++) {
      double coefficient = cavum_spread_correlation(spread, i, k);
      if (coefficient == 0.0) continue;
      good =
          json_array_append_new(list, json_pack("{s:[s, s], s:o}", "of", spread->tolerances[i].key,
                                                spread->tolerances[k].key, "coefficient",
                                                cavum_json_number(coefficient))) == 0;
    }
  }
  return good;
}

static bool set_linear(json_t *object, const cavum_figure_spread *f, double unit) {
  return cavum_json_set(object, "deviation", cavum_json_number(f->deviation / unit)) &&
         cavum_json_set(object, "linear_holds", json_boolean(!f->is_curved)) &&
         cavum_json_set(object, "departure", cavum_json_number(f->departure));
}

static bool set_shares(json_t *object, const cavum_figure_spread *f, const cavum_spread *spread) {
  json_t *shares = json_object();
  bool good = cavum_json_set(object, "shares", shares);
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    good = cavum_json_set(shares, spread->tolerances[j].key, cavum_json_number(f->share[j]));
  }
  if (good && f->has_sampled_shares) {
    good = cavum_json_set(object, "share_together", cavum_json_number(f->share_together));
  }
  return good;
}

// `missing` of the random shapes do not have the figure.
static json_t *make_figure(const cavum_figure_spread *f, double unit, int missing,
                           const cavum_spread *spread) {
  json_t *object = json_object();
  bool good = object && cavum_json_set(object, "value", cavum_json_number(f->value / unit));
  if (good && f->has_linear) good = set_linear(object, f, unit);
  if (good && f->has_shares) good = set_shares(object, f, spread);
  if (good && f->reason) good = cavum_json_set(object, "reason", json_string(f->reason));
  if (good && !isnan(f->sampled_mean)) {
    good = cavum_json_set(
        object, "sampled",
        json_pack("{s:o, s:o, s:o, s:o, s:i}", "mean", cavum_json_number(f->sampled_mean / unit),
                  "deviation", cavum_json_number(f->sampled_deviation / unit), "low",
                  cavum_json_number(f->sampled_low / unit), "high",
                  cavum_json_number(f->sampled_high / unit), "missing", missing));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

static bool set_figures(json_t *root, const cavum_spread *spread) {
  json_t *figures = json_object();
  bool good = cavum_json_set(root, "figures", figures);
  for (int i = 0; good && i < CAVUM_NUM_FIGURES; i++) {
    const cavum_figure_spread *f = &spread->figures[i];
    if (f->state != CAVUM_FIGURE_PRESENT) continue;
    cavum_figure_id id = (cavum_figure_id)i;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
    good = cavum_json_set(figures, cavum_figure_describe(id).key,
                          make_figure(f, unit, spread->num_missing[i], spread));
  }
  for (int i = 0; good && i < CAVUM_NUM_GEOMETRY_FIGURES; i++) {
    const cavum_figure_spread *f = &spread->shape[i];
    if (f->state != CAVUM_FIGURE_PRESENT) continue;
    cavum_geometry_info info = cavum_geometry_describe((cavum_geometry_id)i);
    good = cavum_json_set(figures, info.key, make_figure(f, info.unit_si, 0, spread));
  }
  return good;
}

static json_t *make_allowed(const cavum_spread *spread, const double *widths) {
  json_t *object = json_object();
  bool good = object != NULL;
  for (int j = 0; good && j < spread->num_dimensions; j++) {
    good = cavum_json_set(object, spread->tolerances[j].key, cavum_json_number(widths[j]));
  }
  if (good) return object;
  json_decref(object);
  return NULL;
}

// {FIGURE: {width, factor, linear_holds, alone: {DIMENSION: W}, equal_parts: {DIMENSION: W}}}
static bool set_bands(json_t *root, const cavum_spread *spread, const cavum_spread_band *bands,
                      int count) {
  json_t *list = json_object();
  bool good = cavum_json_set(root, "bands", list);
  for (int i = 0; good && i < count; i++) {
    double alone[CAVUM_TOLERANCES_MOST], shared[CAVUM_TOLERANCES_MOST], factor = NAN;
    cavum_figure_id id = bands[i].figure;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit(id));
    json_t *one = json_object();
    good = one && cavum_json_set(one, "width", cavum_json_number(bands[i].band / unit));
    if (good && cavum_spread_allow(alone, shared, &factor, spread, id, bands[i].band)) {
      good = cavum_json_set(one, "factor", cavum_json_number(factor)) &&
             cavum_json_set(one, "linear_holds", json_boolean(!spread->figures[id].is_curved)) &&
             cavum_json_set(one, "alone", make_allowed(spread, alone)) &&
             cavum_json_set(one, "equal_parts", make_allowed(spread, shared));
    }
    if (good) {
      good = cavum_json_set(list, cavum_figure_describe(id).key, one);
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
  cavum_status status = cavum_spread_bands_check(bands, num_bands, error);
  if (status != CAVUM_OK) return status;
  json_t *root = json_object();
  bool good = root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
              cavum_json_set(root, "label", json_string(spread->label)) &&
              cavum_json_set(root, "samples", json_integer(spread->num_samples)) &&
              cavum_json_set(root, "samples_to_check", json_integer(spread->num_pilot)) &&
              cavum_json_set(root, "samples_degree", json_integer(spread->samples_degree)) &&
              cavum_json_set(root, "samples_error", cavum_json_number(spread->samples_error)) &&
              cavum_json_set(root, "samples_without_a_shape", json_integer(spread->num_failed)) &&
              set_dimensions(root, spread) && set_correlations(root, spread) &&
              set_figures(root, spread);
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
