// SPDX-License-Identifier: GPL-3.0-or-later
// A cold test as a tree of JSON values. Keys are stable and listed in the README of the demo; what
// does not exist is absent, never a number that means nothing.
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/coldtest_report.h"
#include "format/json_text.h"
#include "format/json_value.h"
#include "store/coldtest_emission_json.h"
#include "store/coldtest_field_json.h"

// Every point is some twenty objects; beyond this CSV and HDF5 are the formats.
enum { MOST_POINTS = 100000 };

static const char *const DISTRIBUTION_KEYS[CAVUM_NUM_MC] = {
    [CAVUM_MC_Q0] = "q0",
    [CAVUM_MC_E_ACC] = "gradient_V_per_m",
    [CAVUM_MC_SURFACE_RESISTANCE] = "surface_resistance_ohm"};

static const cavum_coldtest_quantity BUDGETS[] = {CAVUM_QUANTITY_Q0, CAVUM_QUANTITY_E_ACC,
                                                  CAVUM_QUANTITY_SURFACE_RESISTANCE};

static json_t *pair(double value, double uncertainty) {
  json_t *object = json_object();
  if (object && cavum_json_set_finite(object, "value", value) &&
      cavum_json_set_finite(object, "uncertainty", uncertainty)) {
    return object;
  }
  json_decref(object);
  return NULL;
}

static bool set_estimate(json_t *object, const char *key, cavum_estimate estimate) {
  return estimate.value == 0.0 ||
         cavum_json_set(object, key, pair(estimate.value, estimate.uncertainty));
}

// Keeps an object when everything went in, else drops it.
static json_t *keep(json_t *object, bool good) {
  if (good) return object;
  json_decref(object);
  return NULL;
}

static json_t *make_limit(const cavum_coldtest_limit *limit) {
  json_t *object = json_object();
  cavum_coldtest_quantity_info info = cavum_coldtest_describe_quantity(limit->quantity);
  bool good = object && cavum_json_set(object, "name", json_string(limit->name)) &&
              cavum_json_set(object, "source", json_string(limit->source)) &&
              cavum_json_set(object, "quantity", json_string(info.key)) &&
              cavum_json_set_finite(object, "value", limit->value);
  return keep(object, good);
}

static bool set_frame(json_t *root, const cavum_coldtest_report *report) {
  const cavum_coldtest_setup *setup = &report->file.setup;
  char fingerprint[65];
  cavum_sha256(fingerprint, report->file.text, strlen(report->file.text));
  json_t *geometry = json_object(), *limits = json_array();
  bool good =
      geometry && limits && cavum_json_set(root, "cavum", json_string(cavum_version())) &&
      cavum_json_set(root, "title", json_string(setup->title)) &&
      set_estimate(root, "static_heat_W", setup->static_heat_w) &&
      (!setup->ended[0] || cavum_json_set(root, "ended", json_string(setup->ended))) &&
      cavum_json_set(root, "test_file_sha256", json_string(fingerprint)) &&
      (!report->readings_sha256[0] ||
       cavum_json_set(root, "readings_sha256", json_string(report->readings_sha256))) &&
      cavum_json_set(geometry, "from", json_string(setup->geometry_from)) &&
      set_estimate(geometry, "r_over_q_linac_ohm", setup->r_over_q_linac_ohm) &&
      set_estimate(geometry, "accelerating_length_m", setup->accelerating_length_m) &&
      set_estimate(geometry, "geometry_factor_ohm", setup->geometry_factor_ohm) &&
      set_estimate(geometry, "epk_over_eacc", setup->epk_over_eacc) &&
      set_estimate(geometry, "bpk_over_eacc_T_per_V_per_m", setup->bpk_over_eacc_t_per_v_per_m);
  good = cavum_json_set(root, "geometry", geometry) && good;
  for (int i = 0; i < setup->num_limits; i++) {
    good = json_array_append_new(limits, make_limit(&setup->limits[i])) == 0 && good;
  }
  return cavum_json_set(root, "limits", limits) && good &&
         cavum_json_set_finite(root, "coverage", setup->coverage) &&
         cavum_json_set_finite(root, "coverage_factor",
                               cavum_coldtest_coverage_factor(setup->coverage));
}

static json_t *make_calibration(const cavum_coldtest_calibration *calibration) {
  json_t *object = pair(calibration->value.value, calibration->value.uncertainty);
  bool good =
      object &&
      cavum_json_set(object, "readings", json_integer((json_int_t)calibration->num_readings)) &&
      cavum_json_set_finite(object, "chi_squared", calibration->chi_squared) &&
      cavum_json_set(object, "degrees_of_freedom", json_integer(calibration->degrees_of_freedom));
  return keep(object, good);
}

static bool set_calibrations(json_t *root, const cavum_coldtest *test) {
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  cavum_coldtest_calibration external = cavum_coldtest_get_external(test);
  bool good = true;
  if (pickup.value.value > 0.0) {
    good = cavum_json_set(root, "pickup_calibration", make_calibration(&pickup)) && good;
  }
  if (external.value.value > 0.0) {
    good = cavum_json_set(root, "external_calibration", make_calibration(&external)) && good;
  }
  return good;
}

static bool set_bounds(json_t *object, const char *key, const double bounds[2]) {
  if (!isfinite(bounds[0]) || !isfinite(bounds[1])) return true;
  return cavum_json_set(object, key, json_pack("[f,f]", bounds[0], bounds[1]));
}

static bool set_couplings(json_t *object, const cavum_coldtest_checks *checks) {
  json_t *couplings = json_object();
  bool good = couplings != NULL;
  for (int i = 0; good && i < CAVUM_NUM_COUPLING_METHODS; i++) {
    if (!isfinite(checks->coupling_by[i])) continue;
    good = cavum_json_set(couplings, cavum_coupling_method_name((cavum_coupling_method)i),
                          pair(checks->coupling_by[i], checks->coupling_by_uncertainty[i]));
  }
  return cavum_json_set(object, "coupling_by", couplings) && good &&
         cavum_json_set_finite(object, "coupling_disagreement", checks->disagreement);
}

static bool set_flags(json_t *object, uint32_t flags) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int i = 0; good && i < CAVUM_NUM_FLAGS; i++) {
    if (!(flags & (1u << i))) continue;
    good = json_array_append_new(array,
                                 json_string(cavum_coldtest_flag_key((cavum_coldtest_flag)i))) == 0;
  }
  return cavum_json_set(object, "flags", array) && good;
}

static json_t *make_budget(const cavum_coldtest *test, int64_t index,
                           cavum_coldtest_quantity quantity) {
  cavum_coldtest_budget budget;
  json_t *object = json_object();
  bool good =
      object && cavum_coldtest_make_budget(&budget, test, index, quantity, NULL) == CAVUM_OK;
  for (int i = 0; good && i < CAVUM_NUM_INPUTS; i++) {
    if (budget.contribution[i] == 0.0) continue;
    good = cavum_json_set_finite(object, cavum_coldtest_input_key((cavum_coldtest_input)i),
                                 budget.contribution[i]);
  }
  return keep(object, good);
}

static bool set_budgets(json_t *object, const cavum_coldtest *test, int64_t index) {
  json_t *budgets = json_object();
  bool good = budgets != NULL;
  for (size_t i = 0; good && i < sizeof BUDGETS / sizeof *BUDGETS; i++) {
    if (isnan(cavum_coldtest_get_point(test, index)->value[BUDGETS[i]])) continue;
    good = cavum_json_set(budgets, cavum_coldtest_describe_quantity(BUDGETS[i]).key,
                          make_budget(test, index, BUDGETS[i]));
  }
  return cavum_json_set(object, "budgets", budgets) && good;
}

static json_t *make_distribution(const cavum_coldtest_distribution *d) {
  json_t *object = json_object();
  bool good = object && cavum_json_set_finite(object, "mean", d->mean) &&
              cavum_json_set_finite(object, "median", d->median) &&
              cavum_json_set_finite(object, "uncertainty", d->uncertainty) &&
              cavum_json_set(object, "shortest_interval", json_pack("[f,f]", d->low, d->high)) &&
              cavum_json_set(object, "symmetric_interval",
                             json_pack("[f,f]", d->symmetric_low, d->symmetric_high)) &&
              cavum_json_set(object, "linear_interval",
                             json_pack("[f,f]", d->linear_low, d->linear_high)) &&
              cavum_json_set(object, "linear_holds", json_boolean(d->linear_holds));
  return keep(object, good);
}

static json_t *make_monte_carlo(const cavum_coldtest_monte_carlo *outcome) {
  json_t *object = json_object();
  bool good = object &&
              cavum_json_set(object, "draws", json_integer((json_int_t)outcome->num_draws)) &&
              cavum_json_set(object, "impossible_draws",
                             json_integer((json_int_t)outcome->num_impossible)) &&
              cavum_json_set(object, "stable", json_boolean(outcome->stable));
  for (int i = 0; good && i < CAVUM_NUM_MC; i++) {
    if (outcome->num_draws == 0 || !isfinite(outcome->results[i].mean)) continue;
    good = cavum_json_set(object, DISTRIBUTION_KEYS[i], make_distribution(&outcome->results[i]));
  }
  return keep(object, good);
}

static json_t *make_point(const cavum_coldtest_report *report, int64_t index) {
  const cavum_coldtest_point *point = cavum_coldtest_get_point(report->test, index);
  const cavum_coldtest_reading *reading = cavum_coldtest_get_reading(report->test, index);
  const char *note = cavum_coldtest_get_note(report->test, index);
  json_t *object = json_object();
  cavum_coldtest_checks checks;
  bool good =
      object && cavum_json_set(object, "line", json_integer((json_int_t)reading->line)) &&
      (!note[0] || cavum_json_set(object, "note", json_string(note))) &&
      (reading->run == 0 ||
       cavum_json_set(object, "run",
                      json_string(cavum_coldtest_get_run_name(report->test, reading->run)))) &&
      cavum_json_set(object, "by", json_string(point->by_decay ? "decay" : "pickup")) &&
      cavum_json_set(object, "branch", json_string(cavum_branch_name(point->branch))) &&
      cavum_json_set(object, "coupling_from",
                     json_string(cavum_coupling_method_name(point->method))) &&
      cavum_json_set_finite(object, "bath_temperature_K", reading->bath_temperature_k) &&
      cavum_json_set_finite(object, "radiation_Sv_per_h", reading->radiation_sv_per_h) &&
      cavum_json_set_finite(object, "frequency_Hz", reading->frequency_hz) &&
      cavum_json_set_finite(object, "bath_pressure_Pa", reading->bath_pressure_pa);
  for (int i = 0; good && i < CAVUM_NUM_QUANTITIES; i++) {
    if (!isfinite(point->value[i])) continue;
    good = cavum_json_set(object, cavum_coldtest_describe_quantity((cavum_coldtest_quantity)i).key,
                          pair(point->value[i], point->uncertainty[i]));
  }
  good = good && cavum_json_set_finite(object, "correlation_q0_gradient", point->correlation) &&
         cavum_coldtest_check_point(&checks, report->test, index, NULL) == CAVUM_OK &&
         set_bounds(object, "q0_directivity_bounds", checks.q0_bounds) &&
         set_bounds(object, "gradient_directivity_bounds_V_per_m", checks.e_acc_bounds_v_per_m) &&
         set_couplings(object, &checks) && set_budgets(object, report->test, index) &&
         set_flags(object, point->flags);
  if (index < report->num_monte_carlo) {
    good = good &&
           cavum_json_set(object, "monte_carlo", make_monte_carlo(&report->monte_carlo[index]));
  }
  return keep(object, good);
}

static bool set_points(json_t *root, const cavum_coldtest_report *report) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int64_t i = 0; good && i < cavum_coldtest_num_points(report->test); i++) {
    good = json_array_append_new(array, make_point(report, i)) == 0;
  }
  return cavum_json_set(root, "points", array) && good;
}

static json_t *make_decay_point(const cavum_decay_point *point) {
  json_t *object = json_object();
  bool good =
      object && cavum_json_set_finite(object, "time_s", point->time_s) &&
      cavum_json_set(object, "q_loaded", pair(point->q_loaded, point->q_loaded_uncertainty)) &&
      cavum_json_set_finite(object, "coverage_factor", point->coverage_factor) &&
      cavum_json_set_finite(object, "degrees_of_freedom", point->degrees_of_freedom);
  if (good && isfinite(point->e_acc_v_per_m)) {
    good = cavum_json_set(object, "gradient_V_per_m",
                          pair(point->e_acc_v_per_m, point->e_acc_uncertainty_v_per_m));
  }
  if (good && isfinite(point->q0)) {
    good = cavum_json_set(object, "q0", pair(point->q0, point->q0_uncertainty)) &&
           cavum_json_set_finite(object, "q0_uncertainty_of_window", point->q0_statistical);
  }
  return keep(object, good);
}

static json_t *make_analysis(const cavum_decay_analysis *analysis, const char *path) {
  json_t *object = json_object(), *points = json_array();
  bool good =
      object && points && cavum_json_set(object, "file", json_string(path)) &&
      cavum_json_set(object, "samples_used", json_integer((json_int_t)analysis->num_used)) &&
      cavum_json_set(object, "samples_cut", json_integer((json_int_t)analysis->num_cut)) &&
      cavum_json_set(object, "samples_left_out",
                     json_integer((json_int_t)analysis->num_outliers)) &&
      cavum_json_set(object, "decay_time_energy_s",
                     pair(analysis->decay_time_s.value, analysis->decay_time_s.uncertainty)) &&
      cavum_json_set_finite(object, "chi_squared", analysis->chi_squared) &&
      cavum_json_set(object, "degrees_of_freedom",
                     json_integer((json_int_t)analysis->degrees_of_freedom)) &&
      cavum_json_set_finite(object, "scatter", analysis->scatter) &&
      cavum_json_set_finite(object, "curvature", analysis->curvature) &&
      cavum_json_set(object, "exponential", json_boolean(analysis->exponential));
  for (int i = 0; good && i < analysis->num_points; i++) {
    good = json_array_append_new(points, make_decay_point(&analysis->points[i])) == 0;
  }
  good = cavum_json_set(object, "points", points) && good;
  return keep(object, good);
}

static bool set_traces(json_t *root, const cavum_coldtest_report *report) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int i = 0; good && i < report->num_analyses; i++) {
    good = json_array_append_new(
               array, make_analysis(&report->analyses[i], report->file.traces[i].path)) == 0;
  }
  return cavum_json_set(root, "traces", array) && good;
}

static json_t *make_prediction(const cavum_resistance_prediction *p) {
  json_t *object = json_object();
  bool good = object && cavum_json_set_finite(object, "bath_temperature_K", p->temperature_k) &&
              cavum_json_set_finite(object, "gradient_V_per_m", p->e_acc_v_per_m) &&
              set_estimate(object, "surface_resistance_ohm", p->surface_resistance_ohm) &&
              set_estimate(object, "q0", p->q0) &&
              set_estimate(object, "wall_power_W", p->wall_power_w) &&
              cavum_json_set(object, "caution", json_string(p->caution));
  return keep(object, good);
}

static json_t *make_fit(const cavum_coldtest_report *report) {
  const cavum_resistance_fit *fit = &report->fit;
  json_t *object = json_object(), *covariance = json_array(), *predictions = json_array();
  bool good = object && covariance && predictions &&
              cavum_json_set(object, "form", json_string("A exp(-gap/T)/T + residual")) &&
              cavum_json_set(object, "readings", json_integer((json_int_t)fit->num_readings)) &&
              set_estimate(object, "amplitude_ohm_K", fit->amplitude_ohm_k) &&
              set_estimate(object, "gap_K", fit->gap_k) &&
              cavum_json_set(object, "gap_fixed", json_boolean(fit->gap_fixed)) &&
              cavum_json_set(object, "residual_ohm",
                             pair(fit->residual_ohm.value, fit->residual_ohm.uncertainty)) &&
              cavum_json_set_finite(object, "reference_temperature_K", fit->reference_k) &&
              cavum_json_set_finite(object, "chi_squared", fit->chi_squared) &&
              cavum_json_set(object, "degrees_of_freedom", json_integer(fit->degrees_of_freedom)) &&
              cavum_json_set_finite(object, "probability", fit->probability) &&
              cavum_json_set_finite(object, "gradient_V_per_m", fit->e_acc_v_per_m) &&
              cavum_json_set(object, "caution", json_string(fit->caution));
  for (int i = 0; good && i < CAVUM_NUM_RESISTANCE_PARAMETERS; i++) {
    const double *row = fit->covariance[i];
    good = json_array_append_new(covariance, json_pack("[f,f,f]", row[0], row[1], row[2])) == 0;
  }
  good = cavum_json_set(object, "covariance_of_log_bcs_gap_residual", covariance) && good;
  for (int i = 0; good && i < report->num_predictions; i++) {
    good = json_array_append_new(predictions, make_prediction(&report->predictions[i])) == 0;
  }
  good = cavum_json_set(object, "predictions", predictions) && good;
  return keep(object, good);
}

static bool set_meters(json_t *object, const cavum_plan *plan) {
  const double *meter = plan->meter_w;
  return cavum_json_set_finite(object, "forward_meter_W", meter[CAVUM_CHANNEL_FORWARD]) &&
         cavum_json_set_finite(object, "reflected_meter_W", meter[CAVUM_CHANNEL_REFLECTED]) &&
         cavum_json_set_finite(object, "transmitted_meter_W", meter[CAVUM_CHANNEL_TRANSMITTED]) &&
         cavum_json_set_finite(object, "emitted_meter_W", meter[CAVUM_CHANNEL_EMITTED]);
}

static bool set_expected(json_t *object, const char *key, const cavum_plan_expected *expected) {
  if (!expected->possible) return true;
  json_t *found = json_object();
  bool good =
      found && cavum_json_set_finite(found, "q0_relative_uncertainty", expected->q0_relative) &&
      cavum_json_set_finite(found, "gradient_relative_uncertainty", expected->e_acc_relative) &&
      cavum_json_set(found, "q0_largest_input",
                     json_string(cavum_coldtest_input_key(expected->q0_input))) &&
      cavum_json_set(found, "gradient_largest_input",
                     json_string(cavum_coldtest_input_key(expected->e_acc_input))) &&
      cavum_json_set_finite(found, "q0_share_of_variance", expected->q0_share) &&
      cavum_json_set_finite(found, "gradient_share_of_variance", expected->e_acc_share);
  return cavum_json_set(object, key, found) && good;
}

// In the order of `limits` at the top; null where a figure is missing.
static bool set_shares(json_t *object, const cavum_plan *plan, int num_limits) {
  json_t *shares = json_array();
  bool good = shares != NULL;
  for (int i = 0; good && i < num_limits; i++) {
    double share = plan->limit_share[i];
    good = json_array_append_new(shares, isfinite(share) ? json_real(share) : json_null()) == 0;
  }
  return cavum_json_set(object, "limit_shares", shares) && good;
}

static json_t *make_plan(const cavum_plan *plan, const cavum_plan_request *request, int limits) {
  json_t *object = json_object();
  const double *power = plan->state.power_w;
  bool good =
      object && cavum_json_set_finite(object, "gradient_V_per_m", request->e_acc_v_per_m) &&
      cavum_json_set_finite(object, "q0", request->q0) &&
      cavum_json_set_finite(object, "q_external", request->q_external) &&
      cavum_json_set_finite(object, "q_pickup", request->q_pickup) &&
      cavum_json_set_finite(object, "forward_power_W", power[CAVUM_CHANNEL_FORWARD]) &&
      cavum_json_set_finite(object, "reflected_power_W", power[CAVUM_CHANNEL_REFLECTED]) &&
      cavum_json_set_finite(object, "transmitted_power_W", power[CAVUM_CHANNEL_TRANSMITTED]) &&
      cavum_json_set_finite(object, "emitted_power_W", power[CAVUM_CHANNEL_EMITTED]) &&
      cavum_json_set_finite(object, "matched_forward_power_W", plan->matched_forward_w) &&
      cavum_json_set_finite(object, "wall_power_W", plan->state.wall_power_w) &&
      cavum_json_set_finite(object, "q_loaded", plan->state.q_loaded) &&
      cavum_json_set_finite(object, "coupling", plan->state.coupling) &&
      cavum_json_set_finite(object, "decay_time_energy_s", plan->state.decay_time_s) &&
      cavum_json_set_finite(object, "bandwidth_Hz", plan->state.bandwidth_hz) &&
      cavum_json_set_finite(object, "stored_energy_J", plan->stored_energy_j) &&
      cavum_json_set_finite(object, "voltage_V", plan->voltage_v) &&
      cavum_json_set_finite(object, "peak_electric_field_V_per_m", plan->e_peak_v_per_m) &&
      cavum_json_set_finite(object, "peak_magnetic_field_T", plan->b_peak_t) &&
      cavum_json_set_finite(object, "surface_resistance_ohm", plan->surface_resistance_ohm) &&
      set_meters(object, plan) && set_expected(object, "by_decay", &plan->by_decay) &&
      set_expected(object, "by_pickup", &plan->by_pickup) && set_shares(object, plan, limits);
  return keep(object, good);
}

static bool set_plans(json_t *root, const cavum_coldtest_report *report) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int i = 0; good && i < report->num_plans; i++) {
    good = json_array_append_new(array, make_plan(&report->plans[i], &report->file.plans[i],
                                                  report->file.setup.num_limits)) == 0;
  }
  return cavum_json_set(root, "plans", array) && good;
}

static bool set_set_aside(json_t *root, const cavum_coldtest *test) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int64_t i = 0; good && i < cavum_coldtest_num_set_aside(test); i++) {
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, i);
    json_t *object = json_object();
    good = object && cavum_json_set(object, "line", json_integer((json_int_t)row->line)) &&
           cavum_json_set(object, "reason", json_string(row->reason));
    good = json_array_append_new(array, keep(object, good)) == 0;
  }
  return cavum_json_set(root, "set_aside", array) && good;
}

// What is fitted to a run alone.
static bool set_run_fit(json_t *object, const cavum_coldtest_report *report, int number) {
  if (number > report->num_run_fits) return true;
  const cavum_run_fit *fit = &report->run_fits[number - 1];
  bool good = true;
  for (int k = 0; good && k < CAVUM_NUM_RUN_QUANTITIES; k++) {
    cavum_run_quantity quantity = (cavum_run_quantity)k;
    cavum_estimate estimate = cavum_run_fit_get(fit, quantity);
    if (!isfinite(estimate.value)) continue;
    good = set_estimate(object, cavum_run_quantity_describe(quantity).key, estimate);
  }
  return good && cavum_json_set(object, "fit_caution", json_string(fit->caution));
}

static json_t *make_run(const cavum_coldtest_report *report, int number) {
  const cavum_coldtest *test = report->test;
  cavum_coldtest_run_summary run;
  if (cavum_coldtest_summarise_run(&run, test, number, NULL) != CAVUM_OK) return NULL;
  json_t *object = json_object();
  bool good =
      object &&
      cavum_json_set(object, "name", json_string(cavum_coldtest_get_run_name(test, number))) &&
      cavum_json_set(object, "readings", json_integer((json_int_t)run.num_points)) &&
      cavum_json_set_finite(object, "lowest_gradient_V_per_m", run.lowest_e_acc_v_per_m) &&
      cavum_json_set_finite(object, "highest_gradient_V_per_m", run.highest_e_acc_v_per_m) &&
      cavum_json_set_finite(object, "lowest_bath_temperature_K", run.lowest_temperature_k) &&
      cavum_json_set_finite(object, "highest_bath_temperature_K", run.highest_temperature_k) &&
      cavum_json_set_finite(object, "ratio_gradient_V_per_m", run.ratio_e_acc_v_per_m);
  if (good && isfinite(run.q0_ratio.value)) {
    good = set_estimate(object, "q0_over_first_run", run.q0_ratio);
  }
  good = good && set_run_fit(object, report, number);
  return keep(object, good);
}

static bool set_runs(json_t *root, const cavum_coldtest_report *report) {
  int count = cavum_coldtest_num_runs(report->test);
  if (count == 0) return true;
  json_t *array = json_array();
  bool good = array != NULL;
  for (int number = 1; good && number <= count; number++) {
    good = json_array_append_new(array, make_run(report, number)) == 0;
  }
  return cavum_json_set(root, "runs", array) && good;
}

static bool set_waiting(json_t *root, const cavum_coldtest_report *report) {
  if (report->num_waiting == 0) return true;
  json_t *array = json_array();
  bool good = array != NULL;
  for (int i = 0; good && i < report->num_waiting; i++) {
    good = json_array_append_new(array, json_string(report->waiting[i])) == 0;
  }
  return cavum_json_set(root, "waiting", array) && good;
}

static bool set_remarks(json_t *root, const cavum_coldtest *test) {
  json_t *array = json_array();
  bool good = array != NULL;
  for (int i = 0; good && i < cavum_coldtest_num_remarks(test); i++) {
    good = json_array_append_new(array, json_string(cavum_coldtest_get_remark(test, i))) == 0;
  }
  return cavum_json_set(root, "remarks", array) && good;
}

static bool set_rest(json_t *root, const cavum_coldtest_report *report) {
  bool good = true;
  if (report->test) {
    good = set_calibrations(root, report->test) && set_points(root, report) &&
           set_traces(root, report) && set_set_aside(root, report->test) &&
           set_remarks(root, report->test) && set_runs(root, report) && set_waiting(root, report);
  }
  if (report->has_fit) good = good && cavum_json_set(root, "surface_resistance", make_fit(report));
  good = good && cavum_coldtest_json_add_field(root, report);
  good = good && cavum_coldtest_json_add_emission(root, report);
  if (isfinite(report->flux_resistance_ohm)) {
    good =
        good &&
        cavum_json_set_finite(root, "trapped_flux_resistance_ohm", report->flux_resistance_ohm) &&
        cavum_json_set_finite(root, "trapped_flux_sensitivity_ohm_per_T",
                              report->flux_sensitivity_ohm_per_t);
  }
  if (report->num_plans > 0) good = good && set_plans(root, report);
  return good && cavum_json_set(root, "cautions", json_string(cavum_coldtest_cautions()));
}

cavum_status cavum_store_coldtest_to_json(char **text, const cavum_coldtest_report *report,
                                          cavum_error *error) {
  if (!text || !report) return cavum_fail_null(error, __func__);
  if (report->test && cavum_coldtest_num_points(report->test) > MOST_POINTS) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "%lld readings: JSON is written for up to %d, use CSV or HDF5",
                      (long long)cavum_coldtest_num_points(report->test), MOST_POINTS);
  }
  json_t *root = json_object();
  bool good = root && set_frame(root, report) && set_rest(root, report);
  char *made = good ? cavum_store_json_text(root) : NULL;
  json_decref(root);
  if (!made) return cavum_fail_memory(error);
  *text = made;
  return CAVUM_OK;
}
