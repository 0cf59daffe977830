// SPDX-License-Identifier: GPL-3.0-or-later
// Surface resistance against field as JSON.
#include "store/coldtest_field_json.h"

#include <math.h>

#include "format/json_value.h"
#include "store/estimate_json.h"

static bool append(json_t *array, json_t *object, bool good) {
  if (good) return json_array_append_new(array, object) == 0;
  json_decref(object);
  return false;
}

static bool add_point(json_t *array, const cavum_resistance_field_point *point) {
  json_t *object = json_object();
  bool good = object && cavum_estimate_json_set(object, "gradient_V_per_m", point->e_acc_v_per_m) &&
              cavum_estimate_json_set(object, "peak_magnetic_field_T", point->b_peak_t) &&
              cavum_estimate_json_set(object, "bcs_ohm", point->bcs_ohm) &&
              cavum_estimate_json_set(object, "residual_ohm", point->residual_ohm) &&
              cavum_estimate_json_set(object, "local_bcs_ohm", point->local_bcs_ohm) &&
              cavum_estimate_json_set(object, "local_residual_ohm", point->local_residual_ohm) &&
              cavum_estimate_json_set(object, "gap_K", point->fit.gap_k) &&
              cavum_json_set_count(object, "readings", point->fit.num_readings) &&
              cavum_json_set_finite(object, "chi_squared", point->fit.chi_squared) &&
              cavum_json_set_count(object, "degrees_of_freedom", point->fit.degrees_of_freedom) &&
              json_object_set_new(object, "caution", json_string(point->fit.caution)) == 0;
  return append(array, object, good);
}

static bool add_polynomial(json_t *root, const char *key, const cavum_estimate *coefficients,
                           int degree) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int n = 0; good && n <= degree && isfinite(coefficients[n].value); n++) {
    good = append(array,
                  json_pack("{s:f,s:f}", "value", coefficients[n].value, "uncertainty",
                            coefficients[n].uncertainty),
                  true);
  }
  if (good && json_array_size(array) > 0) return json_object_set_new(root, key, array) == 0;
  json_decref(array);
  return good;
}

static bool add_resistance(json_t *root, const cavum_resistance_field *field) {
  json_t *entry = json_object(), *points = json_array();
  bool good = entry && points;
  for (int i = 0; good && i < field->num_points; i++) good = add_point(points, &field->points[i]);
  good = json_object_set_new(entry, "points", points) == 0 && good;
  const struct {
    const char *key;
    const cavum_estimate *coefficients;
  } polynomials[] = {{"bcs_ohm_of_mean", field->average_ohm[CAVUM_FIELD_BCS]},
                     {"residual_ohm_of_mean", field->average_ohm[CAVUM_FIELD_RESIDUAL]},
                     {"bcs_ohm_local", field->local_ohm[CAVUM_FIELD_BCS]},
                     {"residual_ohm_local", field->local_ohm[CAVUM_FIELD_RESIDUAL]}};
  for (size_t i = 0; good && i < sizeof polynomials / sizeof *polynomials; i++) {
    good = add_polynomial(entry, polynomials[i].key, polynomials[i].coefficients, field->degree);
  }
  good = good && cavum_json_set_finite(entry, "reference_temperature_K", field->reference_k) &&
         cavum_json_set_finite(entry, "chi_squared_bcs", field->chi_squared[CAVUM_FIELD_BCS]) &&
         cavum_json_set_finite(entry, "chi_squared_residual",
                               field->chi_squared[CAVUM_FIELD_RESIDUAL]) &&
         cavum_json_set_count(entry, "degrees_of_freedom", field->degrees_of_freedom);
  if (good && field->weighting.known) {
    const double *m = field->weighting.moment;
    good = json_object_set_new(entry, "wall_means_of_powers_of_field",
                               json_pack("[f,f,f,f]", m[0], m[1], m[2], m[3])) == 0;
  }
  return json_object_set_new(root, "surface_resistance_against_field", entry) == 0 && good;
}

static bool add_frequency(json_t *root, const cavum_coldtest_report *report) {
  const cavum_frequency_fit *fit = &report->frequency;
  double up_to = report->file.frequency.highest_e_acc_v_per_m;
  json_t *entry = json_object();
  bool good =
      entry && cavum_estimate_json_set(entry, "lorentz_Hz_m2_per_V2", fit->lorentz_hz_m2_per_v2) &&
      cavum_estimate_json_set(entry, "pressure_Hz_per_Pa", fit->pressure_hz_per_pa) &&
      cavum_estimate_json_set(entry, "frequency_Hz", fit->frequency_hz) &&
      cavum_json_set_finite(entry, "mean_pressure_Pa", fit->mean_pressure_pa) &&
      cavum_json_set_count(entry, "readings", fit->num_readings) &&
      cavum_json_set_finite(entry, "up_to_gradient_V_per_m", up_to > 0.0 ? up_to : NAN) &&
      cavum_json_set_finite(entry, "scatter_Hz", fit->scatter_hz) &&
      cavum_json_set_finite(entry, "chi_squared", fit->chi_squared) &&
      cavum_json_set_count(entry, "degrees_of_freedom", fit->degrees_of_freedom) &&
      cavum_json_set_finite(entry, "expected_lorentz_Hz_m2_per_V2",
                            fit->expected_lorentz_hz_m2_per_v2) &&
      cavum_json_set_finite(entry, "expected_pressure_Hz_per_Pa", fit->expected_pressure_hz_per_pa);
  return json_object_set_new(root, "frequency", entry) == 0 && good;
}

bool cavum_coldtest_json_add_field(json_t *root, const cavum_coldtest_report *report) {
  if (report->has_frequency && !add_frequency(root, report)) return false;
  return !report->has_field || add_resistance(root, &report->field);
}
