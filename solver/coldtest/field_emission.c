// SPDX-License-Identifier: GPL-3.0-or-later
// Field emission of a test: radiation and its onset; the power of electrons is in its neighbour.
#include <stdio.h>
#include <string.h>

#include "cavum/coldtest_emission.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/emission_power.h"
#include "coldtest/options.h"

enum { MOST_ITERATIONS = 200 };

void cavum_field_emission_clear(cavum_field_emission *emission) {
  if (!emission) return;
  free(emission->excess_sv_per_h);
  free(emission->excess_uncertainty_sv_per_h);
  free(emission->power_w);
  memset(emission, 0, cavum_sized_known(emission->struct_size, &cavum_field_emission_sized));
}

static cavum_status check(const cavum_field_emission_options *o, cavum_error *error) {
  const double sizes[] = {o->reading_relative,
                          o->reading_sv_per_h,
                          o->calibration,
                          o->background_sv_per_h.value,
                          o->background_sv_per_h.uncertainty,
                          o->work_function_ev.value,
                          o->work_function_ev.uncertainty,
                          o->onset_over_background,
                          o->onset_sv_per_h,
                          o->lowest_e_acc_v_per_m,
                          o->highest_e_acc_v_per_m,
                          o->bath_temperature_k,
                          o->bath_tolerance_k,
                          o->wall_e_acc_v_per_m};
  for (size_t i = 0; i < sizeof sizes / sizeof *sizes; i++) {
    if (isfinite(sizes[i]) && sizes[i] >= 0.0) continue;
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "field emission: options that are finite and not below 0 were expected");
  }
  if (o->wall_terms < 0 || o->wall_terms > CAVUM_NUM_EMISSION_TERMS) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "field emission: 0 to %d terms were expected, not %d",
                      CAVUM_NUM_EMISSION_TERMS, o->wall_terms);
  }
  bool stated = o->reading_relative > 0.0 || o->reading_sv_per_h > 0.0;
  if (o->background_sv_per_h.uncertainty > 0.0 && !stated) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "field emission: a stated background is weighed with the readings of "
                      "radiation: an uncertainty of one of them was expected");
  }
  return CAVUM_OK;
}

static cavum_status gather(cavum_emission_rows *rows, const cavum_coldtest *test,
                           const cavum_field_emission_options *options, cavum_error *error) {
  double highest = 0.0;
  for (int64_t i = 0; i < test->readings.num_readings; i++) {
    double radiation = test->readings.items[i].radiation_sv_per_h;
    if (!isfinite(radiation) || !cavum_emission_in_range(test, options, i)) continue;
    cavum_inverted inverted;
    cavum_status status = cavum_coldtest_invert_reading(&inverted, test, i, error);
    if (status != CAVUM_OK) return status;
    rows->row[rows->count++] = (cavum_emission_row){
        .e_acc = cavum_coldtest_share_phase(inverted.result[CAVUM_QUANTITY_E_ACC]),
        .signal = cavum_dual_constant(radiation),
        .own = options->reading_sv_per_h};
    highest = cavum_max(highest, inverted.result[CAVUM_QUANTITY_E_ACC].value);
  }
  // A stated background is one more reading, so far below that no emission is in it.
  if (options->background_sv_per_h.uncertainty > 0.0 && rows->count > 0) {
    rows->row[rows->count++] =
        (cavum_emission_row){.e_acc = cavum_dual_constant(1e-3 * highest),
                             .signal = cavum_dual_constant(options->background_sv_per_h.value),
                             .own = options->background_sv_per_h.uncertainty,
                             .exact = true};
  }
  return CAVUM_OK;
}

// Where emission reaches a level, as x = E / E_r: Newton's method for its logarithm, which rises
// and bends one way only.
static double find_onset(const cavum_emission_fit *fit, double wanted) {
  double slope = fit->slope_v_per_m.value / fit->reference_v_per_m, x = 1.0;
  double target = log(wanted / fit->level.value);
  for (int i = 0; i < MOST_ITERATIONS; i++) {
    double rest = 2.5 * log(x) - slope * (1.0 / x - 1.0) - target;
    double step = rest / (2.5 + slope / x);
    x *= exp(-cavum_max(-0.5, cavum_min(0.5, step)));
    if (fabs(step) < 1e-14) break;
  }
  return x;
}

// The gradient at which emission is `wanted`, or so many backgrounds where `over` is above 0.
static cavum_estimate locate(const cavum_emission_solution *solution, double wanted, double over) {
  const cavum_emission_fit *fit = &solution->fit;
  double b = solution->background;
  double slope = fit->slope_v_per_m.value / fit->reference_v_per_m;
  double x = find_onset(fit, over > 0.0 ? over * b : wanted), steep = 2.5 + slope / x;
  double g[CAVUM_NUM_EMISSION_PARAMETERS] = {1.0 / steep, (1.0 - 1.0 / x) / steep,
                                             over > 0.0 ? -1.0 / (b * steep) : 0.0};
  double e = x * fit->reference_v_per_m;
  return (cavum_estimate){.value = e, .uncertainty = e * cavum_emission_deviation(solution, g)};
}

static void set_onset(cavum_field_emission *out, const cavum_emission_solution *solution,
                      const cavum_coldtest *test, const cavum_field_emission_options *options) {
  bool absolute = options->onset_sv_per_h > 0.0;
  double over = options->onset_over_background > 0.0 ? options->onset_over_background : 1.0;
  double b = solution->background, u_b = out->background_sv_per_h.uncertainty;
  out->onset_sv_per_h = absolute ? (cavum_estimate){.value = options->onset_sv_per_h}
                                 : (cavum_estimate){.value = over * b, .uncertainty = over * u_b};
  // Without a background that is known, nothing is a multiple of it.
  bool known = b > 2.0 * u_b;
  if (!solution->fit.found || (!absolute && !known)) return;
  out->onset_e_acc_v_per_m = locate(solution, options->onset_sv_per_h, absolute ? 0.0 : over);
  if (known) {
    cavum_estimate equal = locate(solution, 0.0, 1.0);
    out->wall_below_v_per_m = equal.value - 2.0 * equal.uncertainty;
  }
  cavum_estimate ratio = test->setup.epk_over_eacc, onset = out->onset_e_acc_v_per_m;
  if (!(ratio.value > 0.0)) return;
  out->onset_e_peak_v_per_m.value = ratio.value * onset.value;
  out->onset_e_peak_v_per_m.uncertainty =
      ratio.value * onset.value *
      hypot(onset.uncertainty / onset.value, ratio.uncertainty / ratio.value);
}

// Radiation less background, by point.
static void set_excess(cavum_field_emission *out, const cavum_emission_solution *solution,
                       const cavum_coldtest *test, const cavum_field_emission_options *options) {
  bool stated = options->reading_relative > 0.0 || options->reading_sv_per_h > 0.0;
  double b = solution->background, gain = options->calibration * b;
  double square = solution->covariance[CAVUM_EMISSION_BACKGROUND][CAVUM_EMISSION_BACKGROUND];
  double u_b = sqrt(cavum_max(square - gain * gain, 0.0));
  for (int64_t i = 0; i < out->num_points; i++) {
    double radiation = test->readings.items[i].radiation_sv_per_h;
    out->excess_sv_per_h[i] = out->excess_uncertainty_sv_per_h[i] = NAN;
    if (!isfinite(radiation) || !cavum_emission_in_range(test, options, i)) continue;
    double model = b;
    if (out->radiation.found) {
      model += cavum_emission_fit_at(&out->radiation, test->points[i].value[CAVUM_QUANTITY_E_ACC]);
    }
    double part = stated ? options->reading_relative : out->radiation.scatter;
    out->excess_sv_per_h[i] = radiation - b;
    out->excess_uncertainty_sv_per_h[i] =
        hypot(hypot(part * model, options->reading_sv_per_h), u_b);
  }
}

// Larger than chance makes it: five standard deviations above its mean.
static bool misses(const cavum_emission_fit *fit) {
  double freedom = fit->degrees_of_freedom;
  return fit->found && fit->chi_squared > freedom + 5.0 * sqrt(2.0 * freedom);
}

// What a fit that misses the readings still says.
static void add_misfit(cavum_field_emission *out, const char *what, const cavum_emission_fit *fit) {
  size_t used = strlen(out->caution);
  if (!misses(fit)) return;
  snprintf(
      out->caution + used, sizeof out->caution - used,
      "%s%s: one Fowler-Nordheim line does not fit (chi2 %.3g with %d degrees of freedom): "
      "processing, multipacting, several emitters, or uncertainties that are too small; %s less "
      "certain than printed",
      used > 0 ? "; " : "", what, fit->chi_squared, fit->degrees_of_freedom,
      fit == &out->radiation ? "onset and beta_FN are" : "beta_FN is");
}

static void set_caution(cavum_field_emission *out, const cavum_coldtest *test) {
  double lowest = INFINITY, highest = 0.0, onset = out->onset_e_acc_v_per_m.value;
  const cavum_emission_fit *fit = &out->radiation;
  for (int64_t i = 0; i < out->num_points; i++) {
    double e = test->points[i].value[CAVUM_QUANTITY_E_ACC];
    if (!isfinite(out->excess_sv_per_h[i])) continue;
    lowest = cavum_min(lowest, e);
    highest = cavum_max(highest, e);
  }
  const char *text = "";
  if (!fit->found) {
    text =
        "no emission: radiation does not rise with the field as a current of field emission does";
  } else if (isnan(onset)) {
    text = "no onset: the readings do not show the background; state it, or take some below";
  } else if (onset < lowest || onset > highest) {
    text = "the onset lies outside of the readings";
  }
  snprintf(out->caution, sizeof out->caution, "%s", text);
  add_misfit(out, "radiation", fit);
}

static cavum_status make_arrays(cavum_field_emission *out, int64_t count, cavum_error *error) {
  out->num_points = count;
  out->excess_sv_per_h = cavum_alloc(count, sizeof(double));
  out->excess_uncertainty_sv_per_h = cavum_alloc(count, sizeof(double));
  out->power_w = cavum_alloc(count, sizeof *out->power_w);
  bool good = out->excess_sv_per_h && out->excess_uncertainty_sv_per_h && out->power_w;
  return good ? CAVUM_OK : cavum_fail_memory(error);
}

static void start(cavum_field_emission *out, const cavum_field_emission_options *options) {
  const cavum_estimate none = {.value = NAN, .uncertainty = NAN};
  out->work_function_ev = options->work_function_ev;
  if (!(out->work_function_ev.value > 0.0)) {
    out->work_function_ev.value = CAVUM_NIOBIUM_WORK_FUNCTION_EV;
  }
  out->onset_e_acc_v_per_m = out->onset_e_peak_v_per_m = none;
  out->power = (cavum_emission_fit){.level = none, .slope_v_per_m = none, .enhancement = none};
  out->bath_temperature_k = out->wall_chi_squared = NAN;
  out->strongest = -1;
  for (int64_t i = 0; i < out->num_points; i++) out->power_w[i] = none;
}

cavum_status cavum_field_emission_evaluate_sized(cavum_field_emission *emission, size_t struct_size,
                                                 const cavum_coldtest *test,
                                                 const cavum_field_emission_options *options,
                                                 cavum_error *error) {
  if (!emission || !test) return cavum_fail_null(error, __func__);
  cavum_field_emission_options full;
  cavum_status status = cavum_field_emission_options_take(&full, options, error);
  if (status != CAVUM_OK) return status;
  options = &full;
  status = check(options, error);
  if (status != CAVUM_OK) return status;
  cavum_field_emission out = {0};
  cavum_emission_solution solution;
  cavum_emission_rows rows = {
      .row = cavum_alloc(test->readings.num_readings + 1, sizeof *rows.row),
      .relative = options->reading_relative,
      .gain = options->calibration,
      .stated = options->reading_relative > 0.0 || options->reading_sv_per_h > 0.0,
      .with_background = true,
      .what = "field emission, radiation against field"};
  if (!rows.row) return cavum_fail_memory(error);
  CAVUM_TRY(make_arrays(&out, test->readings.num_readings, error));
  start(&out, options);
  CAVUM_TRY(gather(&rows, test, options, error));
  CAVUM_TRY(cavum_emission_solve(&solution, &rows, error));
  out.radiation = solution.fit;
  out.radiation.num_readings -= options->background_sv_per_h.uncertainty > 0.0;
  cavum_emission_set_enhancement(&out.radiation, test, out.work_function_ev);
  out.background_sv_per_h.value = solution.background;
  out.background_sv_per_h.uncertainty =
      sqrt(solution.covariance[CAVUM_EMISSION_BACKGROUND][CAVUM_EMISSION_BACKGROUND]);
  set_onset(&out, &solution, test, options);
  if (options->wall_e_acc_v_per_m > 0.0) out.wall_below_v_per_m = options->wall_e_acc_v_per_m;
  set_excess(&out, &solution, test, options);
  set_caution(&out, test);
  CAVUM_TRY(cavum_emission_find_power(&out, test, options, error));
  add_misfit(&out, "power", &out.power);
  cavum_sized_give(emission, struct_size, &out, &cavum_field_emission_sized);
  out = (cavum_field_emission){0};
done:
  cavum_field_emission_clear(&out);
  free(rows.row);
  return status;
}
