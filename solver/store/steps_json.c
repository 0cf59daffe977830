// SPDX-License-Identifier: GPL-3.0-or-later
// A chain of steps as JSON: hertz, standard uncertainties, null for what does not exist.
#include "base/base.h"
#include "base/units.h"
#include "cavum/steps.h"
#include "figures/stored_figure.h"
#include "format/json_text.h"
#include "format/json_value.h"

// Of the shape, in vacuum; under the keys of the results of solve.
static bool set_figures(json_t *object, const cavum_step *step) {
  json_t *figures = json_object();
  bool good = cavum_json_set(object, "figures", figures);
  for (int id = 0; good && id < CAVUM_NUM_FIGURES; id++) {
    const cavum_figure *f = &step->figures[id];
    if (f->state != CAVUM_FIGURE_PRESENT) continue;
    double unit = cavum_from_unit(1.0, cavum_stored_figure_unit((cavum_figure_id)id));
    good = cavum_json_set(figures, cavum_figure_describe((cavum_figure_id)id).key,
                          cavum_json_number(f->value / unit));
  }
  return good;
}

static json_t *make_step(const cavum_step *step) {
  const struct {
    const char *key;
    double value;
  } numbers[] = {{"frequency_Hz", step->frequency_hz},
                 {"uncertainty_Hz", step->uncertainty_hz},
                 {"change_Hz", step->change_hz},
                 {"change_uncertainty_Hz", step->change_uncertainty_hz},
                 {"aim_Hz", step->aim_hz},
                 {"aim_uncertainty_Hz", step->aim_uncertainty_hz},
                 {"tolerance_Hz", step->tolerance_hz},
                 {"measured_Hz", step->measured_hz},
                 {"measured_uncertainty_Hz", step->measured_uncertainty_hz},
                 {"deviation_Hz", step->measured_hz - step->aim_hz},
                 {"expected_Hz", step->expected_hz},
                 {"expected_uncertainty_Hz", step->expected_uncertainty_hz},
                 {"derivative_change_Hz", step->estimate_hz},
                 {"amount_m", step->amount},
                 {"amount_uncertainty_m", step->amount_uncertainty},
                 {"slope_Hz_per_m", step->slope_hz_per_m},
                 {"next_amount_m", step->next_amount},
                 {"next_amount_uncertainty_m", step->next_amount_uncertainty},
                 {"found_amount_m", step->found_amount},
                 {"found_amount_uncertainty_m", step->found_amount_uncertainty}};
  const struct {
    const char *key;
    double value;
  } halves[] = {{"zero_mode_Hz", step->zero_hz},
                {"zero_mode_uncertainty_Hz", step->zero_uncertainty_hz},
                {"zero_mode_aim_Hz", step->zero_aim_hz},
                {"zero_mode_expected_Hz", step->zero_expected_hz},
                {"zero_mode_expected_uncertainty_Hz", step->zero_expected_uncertainty_hz},
                {"measured_zero_mode_Hz", step->measured_zero_hz},
                {"pi_mode_Hz", step->pi_hz},
                {"pi_mode_uncertainty_Hz", step->pi_uncertainty_hz},
                {"pi_mode_aim_Hz", step->pi_aim_hz},
                {"pi_mode_expected_Hz", step->pi_expected_hz},
                {"pi_mode_expected_uncertainty_Hz", step->pi_expected_uncertainty_hz},
                {"measured_pi_mode_Hz", step->measured_pi_hz},
                {"k_cc", step->coupling}};
  json_t *object = json_object();
  bool good = object && cavum_json_set(object, "name", json_string(step->name)) &&
              cavum_json_set(object, "kind", json_string(cavum_step_kind_name(step->kind))) &&
              cavum_json_set(object, "what", json_string(step->what));
  for (size_t i = 0; good && i < sizeof numbers / sizeof numbers[0]; i++) {
    good = cavum_json_set(object, numbers[i].key, cavum_json_number(numbers[i].value));
  }
  good =
      good && cavum_json_set(object, "contradicts", json_boolean(step->contradicts)) &&
      cavum_json_set(object, "uncertainty_not_stated", json_boolean(step->uncertainty_not_stated));
  // Of two halves joined at the iris, where they are asked for.
  json_t *pair = good && !isnan(step->zero_hz) ? json_object() : NULL;
  if (pair) good = cavum_json_set(object, "halves_between_plates", pair);
  for (size_t i = 0; good && pair && i < sizeof halves / sizeof halves[0]; i++) {
    good = cavum_json_set(pair, halves[i].key, cavum_json_number(halves[i].value));
  }
  if (good && pair) {
    good = cavum_json_set(pair, "zero_mode_contradicts", json_boolean(step->zero_contradicts)) &&
           cavum_json_set(pair, "pi_mode_contradicts", json_boolean(step->pi_contradicts));
  }
  const struct {
    const char *key, *text;
  } texts[] = {{"next_amount_obstacle", step->next_obstacle},
               {"next_amount_caution", step->next_caution},
               {"found_amount_obstacle", step->found_obstacle}};
  for (size_t i = 0; good && i < sizeof texts / sizeof texts[0]; i++) {
    good = cavum_json_set(object, texts[i].key,
                          texts[i].text[0] ? json_string(texts[i].text) : json_null());
  }
  if (good && step->reason[0]) good = cavum_json_set(object, "reason", json_string(step->reason));
  if (good && step->solved) good = set_figures(object, step);
  if (good) return object;
  json_decref(object);
  return NULL;
}

static bool set_steps(json_t *root, const cavum_steps_result *result) {
  json_t *list = json_array();
  bool good = cavum_json_set(root, "behind_each_step", list);
  for (int i = 0; good && i < result->num_steps; i++) {
    good = json_array_append_new(list, make_step(result->steps[i])) == 0;
  }
  return good;
}

// {NAME: {found, found_uncertainty, sensitivity_Hz: [...]}}
static bool set_sources(json_t *root, const cavum_steps_result *result) {
  json_t *all = json_object();
  bool good = cavum_json_set(root, "sources", all);
  for (int s = 0; good && s < result->num_sources; s++) {
    const cavum_step_source *source = result->sources[s];
    json_t *row = json_array();
    json_t *one =
        json_pack("{s:o, s:o, s:o}", "found", cavum_json_number(source->found), "found_uncertainty",
                  cavum_json_number(source->found_uncertainty), "sensitivity_Hz", row);
    good = one && cavum_json_set(all, source->name, one);
    for (int i = 0; good && i < result->num_steps; i++) {
      good = json_array_append_new(
                 row, cavum_json_number(result->sensitivity_hz[i * result->num_sources + s])) == 0;
    }
  }
  return good;
}

// {chi_square, degrees_of_freedom, probability, contradictory, odd_step, contradiction}
static bool set_agreement(json_t *root, const cavum_steps_result *result) {
  json_t *judged = json_object();
  bool odd = result->odd_step >= 0 && result->odd_step < result->num_steps;
  return cavum_json_set(root, "agreement", judged) &&
         cavum_json_set(judged, "chi_square", cavum_json_number(result->chi_square)) &&
         cavum_json_set(judged, "degrees_of_freedom", json_integer(result->chi_square_freedom)) &&
         cavum_json_set(judged, "probability", cavum_json_number(result->chi_square_probability)) &&
         cavum_json_set(judged, "contradictory", json_boolean(result->contradiction[0] != 0)) &&
         cavum_json_set(judged, "odd_step",
                        odd ? json_string(result->steps[result->odd_step]->name) : json_null()) &&
         cavum_json_set(
             judged, "contradiction",
             result->contradiction[0] ? json_string(result->contradiction) : json_null());
}

cavum_status cavum_store_steps_to_json(char **text, const cavum_steps_result *result,
                                       cavum_error *error) {
  if (!text || !result) return cavum_fail_null(error, __func__);
  json_t *root = json_object();
  bool good =
      root && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
      cavum_json_set(root, "title", json_string(result->title)) &&
      cavum_json_set(root, "label", json_string(result->label)) &&
      cavum_json_set(root, "mode", json_integer(result->mode + 1)) &&
      cavum_json_set(root, "target_Hz", cavum_json_number(result->target_hz)) &&
      cavum_json_set(root, "target_tolerance_Hz", cavum_json_number(result->target_tolerance_hz)) &&
      cavum_json_set(root, "uncertainty_not_stated",
                     result->not_stated[0] ? json_string(result->not_stated) : json_null()) &&
      set_steps(root, result) && set_agreement(root, result) && set_sources(root, result);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
