// SPDX-License-Identifier: GPL-3.0-or-later
// The readings of a test that make a series at fixed field, and what a fit predicts.
#include <stdio.h>
#include <string.h>

#include "base/units.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/options.h"
#include "coldtest/resistance.h"
#include "coldtest/setup.h"

// Of niobium: above it there is no BCS term.
static const double CRITICAL_K = 9.25;

static bool belongs(const cavum_coldtest *test, int64_t index,
                    const cavum_resistance_options *options) {
  const cavum_coldtest_point *point = &test->points[index];
  double field = point->value[CAVUM_QUANTITY_E_ACC];
  if (options->run > 0 && test->readings.items[index].run != options->run) return false;
  double temperature_k = test->readings.items[index].bath_temperature_k;
  if (!(temperature_k > 0.0) || temperature_k > CRITICAL_K ||
      isnan(point->value[CAVUM_QUANTITY_SURFACE_RESISTANCE])) {
    return false;
  }
  return options->e_acc_v_per_m <= 0.0 ||
         fabs(field - options->e_acc_v_per_m) <= options->e_acc_tolerance * options->e_acc_v_per_m;
}

// Says what field was asked for, and what fields there are.
static cavum_status fail_without_readings(const cavum_coldtest *test,
                                          const cavum_resistance_options *options,
                                          cavum_error *error) {
  cavum_resistance_options any = *options;
  double low = INFINITY, high = 0.0;
  any.e_acc_v_per_m = 0.0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    if (!belongs(test, i, &any)) continue;
    low = cavum_min(low, test->points[i].value[CAVUM_QUANTITY_E_ACC]);
    high = cavum_max(high, test->points[i].value[CAVUM_QUANTITY_E_ACC]);
  }
  if (!(high > 0.0) || !(options->e_acc_v_per_m > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "surface resistance: no reading has a bath temperature, a surface resistance "
                      "(needs G) and the field of the series");
  }
  return cavum_fail(error, CAVUM_ERR_INPUT,
                    "surface resistance: no reading with a bath temperature and a surface "
                    "resistance (needs G) is within %g %% of the field of the series, %g MV/m: "
                    "they are from %.4g to %.4g MV/m",
                    cavum_in_percent(options->e_acc_tolerance),
                    cavum_in_mv_per_m(options->e_acc_v_per_m), cavum_in_mv_per_m(low),
                    cavum_in_mv_per_m(high));
}

/** Owned arrays of a series; see cavum_resistance_series. */
typedef struct arrays {
  const cavum_coldtest *test;
  int64_t *index;  // Of the reading.
  double *temperature_k, *resistance_ohm, *uncertainty_ohm;
} arrays;

// R_s of a reading with its budget.
static cavum_dual invert_resistance(const cavum_inverted *inverted) {
  return cavum_coldtest_share_phase(inverted->result[CAVUM_QUANTITY_SURFACE_RESISTANCE]);
}

// A reading of the series has been inverted before, so it can be.
static void find_shared(double *parts, const void *data, int64_t i) {
  const arrays *a = data;
  cavum_inverted inverted;
  cavum_dual resistance = cavum_dual_constant(0.0);
  if (cavum_coldtest_invert_reading(&inverted, a->test, a->index[i], NULL) == CAVUM_OK) {
    resistance = invert_resistance(&inverted);
  }
  memcpy(parts, resistance.part, CAVUM_FIRST_LOCAL_INPUT * sizeof *parts);
}

static cavum_status gather(arrays *a, cavum_resistance_series *series, cavum_resistance_fit *sums,
                           cavum_dual *field, const cavum_coldtest *test,
                           const cavum_resistance_options *options, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t n = 0;
  double local = 0.0;
  *field = cavum_dual_constant(0.0);
  series->weighted = true;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    cavum_inverted inverted;
    if (!belongs(test, i, options)) continue;
    CAVUM_TRY(cavum_coldtest_invert_reading(&inverted, test, i, error));
    cavum_dual resistance = invert_resistance(&inverted);
    double own = 0.0;
    for (int k = CAVUM_FIRST_LOCAL_INPUT; k < CAVUM_NUM_INPUTS; k++) {
      own += resistance.part[k] * resistance.part[k];
    }
    a->temperature_k[n] = test->readings.items[i].bath_temperature_k;
    a->index[n] = i;
    a->resistance_ohm[n] = resistance.value;
    a->uncertainty_ohm[n] = sqrt(own);
    series->weighted = series->weighted && own > 0.0;
    cavum_dual e_acc = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_E_ACC]);
    sums->e_acc_v_per_m += e_acc.value;
    *field = cavum_dual_add(field, &e_acc);
    for (int k = CAVUM_FIRST_LOCAL_INPUT; k < CAVUM_NUM_INPUTS; k++) {
      local += e_acc.part[k] * e_acc.part[k];
    }
    double frequency_hz = test->readings.items[i].frequency_hz;
    sums->frequency_hz += isnan(frequency_hz) ? test->setup.frequency_hz : frequency_hz;
    n++;
  }
  series->count = n;
  *field = cavum_dual_linear(1.0 / (double)n, field, 0.0, field, 0.0);
  for (int k = CAVUM_FIRST_LOCAL_INPUT; k < CAVUM_NUM_INPUTS; k++) field->part[k] = 0.0;
  field->part[CAVUM_INPUT_NOISE_FORWARD] = sqrt(local) / (double)n;
done:
  return status;
}

cavum_status cavum_resistance_make_fit(cavum_resistance_fit *fit, const cavum_coldtest *test,
                                       const cavum_resistance_options *options,
                                       cavum_error *error) {
  if (!fit || !test) return cavum_fail_null(error, __func__);
  cavum_resistance_options full;
  cavum_status status = cavum_resistance_options_take(&full, options, error);
  if (status != CAVUM_OK) return status;
  return cavum_resistance_fit_gradient(fit, NULL, test, &full, error);
}

cavum_status cavum_resistance_fit_gradient(cavum_resistance_fit *fit,
                                           cavum_resistance_shared *shared,
                                           const cavum_coldtest *test,
                                           const cavum_resistance_options *options,
                                           cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_dual field;
  int64_t room = 0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) room += belongs(test, i, options);
  if (room == 0) return fail_without_readings(test, options, error);
  cavum_resistance_fit sums = {0}, out = {0};
  arrays a = {.test = test,
              .index = cavum_alloc(room, sizeof(int64_t)),
              .temperature_k = cavum_alloc(room, sizeof(double)),
              .resistance_ohm = cavum_alloc(room, sizeof(double)),
              .uncertainty_ohm = cavum_alloc(room, sizeof(double))};
  if (!a.index || !a.temperature_k || !a.resistance_ohm || !a.uncertainty_ohm) {
    status = cavum_fail_memory(error);
    goto done;
  }
  cavum_resistance_series series = {
      .temperature_k = a.temperature_k,
      .resistance_ohm = a.resistance_ohm,
      .uncertainty_ohm = a.uncertainty_ohm,
      .temperature_uncertainty_k = test->setup.temperature_uncertainty_k,
      .temperature_common_k = test->setup.temperature_common_k,
      .num_shared = CAVUM_FIRST_LOCAL_INPUT,
      .shared_ohm = find_shared,
      .shared_data = &a};
  CAVUM_TRY(gather(&a, &series, &sums, &field, test, options, error));
  CAVUM_TRY(cavum_resistance_fit_series(&out, shared ? &shared->moves[0][0] : NULL, &series,
                                        options->fixed_gap_k, error));
  if (shared) shared->e_acc_v_per_m = field;
  out.e_acc_v_per_m = sums.e_acc_v_per_m / (double)series.count;
  out.frequency_hz = sums.frequency_hz / (double)series.count;
  *fit = out;
done:
  free(a.temperature_k);
  free(a.resistance_ohm);
  free(a.uncertainty_ohm);
  free(a.index);
  return status;
}

static double relative(cavum_estimate estimate) {
  return estimate.value > 0.0 ? estimate.uncertainty / estimate.value : 0.0;
}

// The field of the series is measured; another field asks that R_s does not depend on it. What it
// is predicted from is said with its range.
static void set_caution(cavum_resistance_prediction *out, const cavum_resistance_fit *fit) {
  char range[80] = "";
  out->caution[0] = '\0';
  bool outside = out->temperature_k < fit->lowest_k || out->temperature_k > fit->highest_k;
  bool other_field = fabs(out->e_acc_v_per_m - fit->e_acc_v_per_m) > 0.2 * fit->e_acc_v_per_m;
  if (outside) {
    snprintf(range, sizeof range, "temperature outside the measured range, %.4g K to %.4g K",
             fit->lowest_k, fit->highest_k);
  }
  if (!outside && !other_field) return;
  snprintf(out->caution, sizeof out->caution, "%s%s", range, outside && other_field ? "; " : "");
  if (!other_field) return;
  size_t used = strlen(out->caution);
  snprintf(out->caution + used, sizeof out->caution - used,
           "R_s taken as independent of the field: fit at %.4g MV/m, %.4g K to %.4g K",
           cavum_in_mv_per_m(fit->e_acc_v_per_m), fit->lowest_k, fit->highest_k);
}

cavum_status cavum_resistance_predict(cavum_resistance_prediction *prediction,
                                      const cavum_resistance_fit *fit,
                                      const cavum_coldtest_setup *given, double temperature_k,
                                      double e_acc_v_per_m, cavum_error *error) {
  if (!prediction || !fit || !given) return cavum_fail_null(error, __func__);
  cavum_coldtest_setup full;
  const cavum_coldtest_setup *setup = &full;
  cavum_status status = cavum_coldtest_setup_take(&full, given, error);
  if (status != CAVUM_OK) return status;
  double factor_ohm = setup->geometry_factor_ohm.value;
  if (!(temperature_k > 0.0) || !(e_acc_v_per_m > 0.0) || !(factor_ohm > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "prediction at %g K, %g V/m: positive numbers and a geometry factor were "
                      "expected",
                      temperature_k, e_acc_v_per_m);
  }
  cavum_resistance_prediction out = {.temperature_k = temperature_k,
                                     .e_acc_v_per_m = e_acc_v_per_m};
  out.surface_resistance_ohm = cavum_resistance_at_ohm(fit, temperature_k);
  if (!(out.surface_resistance_ohm.value > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_RANGE,
                      "prediction at %g K: the fit gives a negative surface resistance there",
                      temperature_k);
  }
  // G is in every R_s of the series, so Q0 = G / R_s has the relative uncertainty of R_s without
  // that of G; adding G's would count it twice the wrong way. It is left in, on the safe side.
  double voltage_v = e_acc_v_per_m * setup->accelerating_length_m.value;
  out.q0.value = factor_ohm / out.surface_resistance_ohm.value;
  out.q0.uncertainty = out.q0.value * relative(out.surface_resistance_ohm);
  out.wall_power_w.value = voltage_v * voltage_v / (setup->r_over_q_linac_ohm.value * out.q0.value);
  double length = 2.0 * relative(setup->accelerating_length_m);
  out.wall_power_w.uncertainty =
      out.wall_power_w.value *
      hypot(hypot(relative(out.q0), length), relative(setup->r_over_q_linac_ohm));
  set_caution(&out, fit);
  *prediction = out;
  return CAVUM_OK;
}

double cavum_trapped_flux_rule_ohm_per_t(double frequency_hz) {
  // 0.3 nohm/mG at 1 GHz; 1 mG is 0.1 uT.
  return cavum_from_unit(3.0, CAVUM_UNIT_NOHM_PER_MICROTESLA) *
         sqrt(cavum_in_unit(frequency_hz, CAVUM_UNIT_GHZ));
}

double cavum_trapped_flux_resistance_ohm(double ambient_t, double trapped_fraction,
                                         double sensitivity_ohm_per_t) {
  return ambient_t * trapped_fraction * sensitivity_ohm_per_t;
}
