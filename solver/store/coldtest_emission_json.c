// SPDX-License-Identifier: GPL-3.0-or-later
// Field emission as JSON.
#include "store/coldtest_emission_json.h"

#include <math.h>

#include "format/json_value.h"
#include "store/estimate_json.h"

static bool add_fit(json_t *root, const char *key, const cavum_emission_fit *fit,
                    const char *level) {
  json_t *entry = json_object();
  bool good = entry && cavum_json_set_count(entry, "readings", fit->num_readings);
  if (good && fit->found) {
    good = cavum_json_set_finite(entry, "reference_gradient_V_per_m", fit->reference_v_per_m) &&
           cavum_estimate_json_set(entry, level, fit->level) &&
           cavum_estimate_json_set(entry, "slope_V_per_m", fit->slope_v_per_m) &&
           cavum_estimate_json_set(entry, "field_enhancement", fit->enhancement) &&
           cavum_json_set_finite(entry, "scatter", fit->scatter) &&
           cavum_json_set_finite(entry, "chi_squared", fit->chi_squared) &&
           cavum_json_set_count(entry, "degrees_of_freedom", fit->degrees_of_freedom);
  }
  return json_object_set_new(root, key, entry) == 0 && good;
}

static bool add_curve(json_t *root, const cavum_field_emission *e) {
  if (e->num_below == 0) return true;
  json_t *entry = json_object(), *terms = json_array();
  bool good = entry && terms;
  for (int n = 0; good && n < e->wall_terms; n++) {
    good = json_array_append_new(terms, json_real(e->wall_coefficient[n])) == 0;
  }
  good = good && cavum_json_set_count(entry, "readings", e->num_below) &&
         cavum_json_set_finite(entry, "below_gradient_V_per_m", e->wall_below_v_per_m) &&
         cavum_json_set_finite(entry, "reference_gradient_V_per_m", e->wall_reference_v_per_m) &&
         cavum_json_set_finite(entry, "bath_temperature_K", e->bath_temperature_k) &&
         cavum_json_set_finite(entry, "chi_squared", e->wall_chi_squared) &&
         cavum_json_set_count(entry, "degrees_of_freedom", e->wall_degrees_of_freedom) &&
         cavum_json_set_finite(entry, "scaling_of_uncertainties", e->wall_scaling);
  good = entry && json_object_set_new(entry, "inverse_q0_coefficients", terms) == 0 && good;
  return json_object_set_new(root, "q0_curve", entry) == 0 && good;
}

static bool add_points(json_t *root, const cavum_field_emission *e) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int64_t i = 0; good && i < e->num_points; i++) {
    if (isnan(e->excess_sv_per_h[i]) && isnan(e->power_w[i].value)) continue;
    json_t *point = json_object();
    cavum_estimate excess = {.value = e->excess_sv_per_h[i],
                             .uncertainty = e->excess_uncertainty_sv_per_h[i]};
    good = point && cavum_json_set_count(point, "point", i + 1) &&
           cavum_estimate_json_set(point, "radiation_less_background_Sv_per_h", excess) &&
           cavum_estimate_json_set(point, "electron_power_W", e->power_w[i]);
    good = json_array_append_new(array, point) == 0 && good;
  }
  return json_object_set_new(root, "points", array) == 0 && good;
}

bool cavum_coldtest_json_add_emission(json_t *root, const cavum_coldtest_report *report) {
  if (!report->has_emission) return true;
  const cavum_field_emission *e = &report->emission;
  json_t *entry = json_object();
  bool good = entry && cavum_estimate_json_set(entry, "work_function_eV", e->work_function_ev) &&
              cavum_estimate_json_set(entry, "background_Sv_per_h", e->background_sv_per_h) &&
              cavum_estimate_json_set(entry, "onset_emission_Sv_per_h", e->onset_sv_per_h) &&
              cavum_estimate_json_set(entry, "onset_gradient_V_per_m", e->onset_e_acc_v_per_m) &&
              cavum_estimate_json_set(entry, "onset_peak_electric_field_V_per_m",
                                      e->onset_e_peak_v_per_m) &&
              add_fit(entry, "by_radiation", &e->radiation, "level_Sv_per_h") &&
              add_fit(entry, "by_power", &e->power, "level_A") && add_curve(entry, e) &&
              add_points(entry, e) &&
              json_object_set_new(entry, "caution", json_string(e->caution)) == 0;
  if (good && e->strongest >= 0) {
    good = cavum_json_set_count(entry, "strongest_point", e->strongest + 1) &&
           cavum_estimate_json_set(entry, "strongest_electron_power_W", e->power_w[e->strongest]);
  }
  return json_object_set_new(root, "field_emission", entry) == 0 && good;
}
