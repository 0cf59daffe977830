// SPDX-License-Identifier: GPL-3.0-or-later
// What a whole test asks to be fitted, fitted to each of its runs alone.
#include "coldtest/run_fits.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"

static const double BCS_AT_K = 2.0;

static bool is_known(cavum_run_quantity quantity) {
  return (int)quantity >= 0 && quantity < CAVUM_NUM_RUN_QUANTITIES;
}

cavum_run_quantity_info cavum_run_quantity_describe(cavum_run_quantity quantity) {
  static const cavum_run_quantity_info rows[] = {
#define RUN_ROW(name, key, unit, text) {key, unit, text},
      CAVUM_RUN_QUANTITY_TABLE(RUN_ROW)
#undef RUN_ROW
  };
  return is_known(quantity) ? rows[quantity] : (cavum_run_quantity_info){"unknown", "1", "unknown"};
}

const char *cavum_run_quantity_key(cavum_run_quantity quantity) {
  return is_known(quantity) ? cavum_run_quantity_describe(quantity).key : "";
}

const char *cavum_run_quantity_unit(cavum_run_quantity quantity) {
  return is_known(quantity) ? cavum_run_quantity_describe(quantity).unit : "";
}

const char *cavum_run_quantity_text(cavum_run_quantity quantity) {
  return is_known(quantity) ? cavum_run_quantity_describe(quantity).text : "";
}

cavum_estimate cavum_run_fit_get(const cavum_run_fit *fit, cavum_run_quantity quantity) {
  const cavum_estimate none = {.value = NAN, .uncertainty = NAN};
  if (!fit) return none;
  bool resistance = fit->has_resistance, frequency = fit->has_frequency;
  switch (quantity) {
    case CAVUM_RUN_RESIDUAL:
      return resistance ? fit->resistance.residual_ohm : none;
    case CAVUM_RUN_GAP:
      return resistance ? fit->resistance.gap_k : none;
    case CAVUM_RUN_AMPLITUDE:
      return resistance ? fit->resistance.amplitude_ohm_k : none;
    case CAVUM_RUN_BCS:
      return resistance ? cavum_resistance_bcs_at_ohm(&fit->resistance, BCS_AT_K) : none;
    case CAVUM_RUN_LORENTZ:
      return frequency ? fit->frequency.lorentz_hz_m2_per_v2 : none;
    case CAVUM_RUN_PRESSURE:
      return frequency ? fit->frequency.pressure_hz_per_pa : none;
    case CAVUM_RUN_FREQUENCY:
      return frequency ? fit->frequency.frequency_hz : none;
    default:
      return none;
  }
}

// A run that lacks readings of a series has no fit of it; why is said once, for both.
static cavum_status keep_reason(cavum_run_fit *fit, cavum_status status, const cavum_error *fault,
                                cavum_error *error) {
  size_t used = strlen(fit->caution);
  bool lacks = status == CAVUM_ERR_INPUT || status == CAVUM_ERR_NOT_CONVERGED;
  if (lacks) {
    snprintf(fit->caution + used, sizeof fit->caution - used, "%s%.250s", used > 0 ? "; " : "",
             fault->message);
    return CAVUM_OK;
  }
  if (status != CAVUM_OK && error) *error = *fault;
  return status;
}

static cavum_status fit_run(cavum_run_fit *fit, const cavum_coldtest_report *report, int run,
                            cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  cavum_status status = CAVUM_OK;
  if (report->has_fit) {
    cavum_error fault = {0};
    cavum_resistance_options options = file->resistance;
    options.run = run;
    status = cavum_resistance_make_fit(&fit->resistance, report->test, &options, &fault);
    fit->has_resistance = status == CAVUM_OK;
    CAVUM_TRY(keep_reason(fit, status, &fault, error));
    if (fit->has_resistance && fit->resistance.caution[0]) {
      snprintf(fit->caution, sizeof fit->caution, "%.250s", fit->resistance.caution);
    }
  }
  if (report->has_frequency) {
    cavum_error fault = {0};
    cavum_frequency_options options = file->frequency;
    options.run = run;
    status = cavum_frequency_make_fit(&fit->frequency, report->test, &options, NULL, &fault);
    fit->has_frequency = status == CAVUM_OK;
    CAVUM_TRY(keep_reason(fit, status, &fault, error));
  }
done:
  return status;
}

cavum_status cavum_coldtest_fit_runs(cavum_coldtest_report *report, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = cavum_coldtest_num_runs(report->test);
  if (count == 0 || (!report->has_fit && !report->has_frequency)) return CAVUM_OK;
  report->run_fits = cavum_alloc(count, sizeof *report->run_fits);
  if (!report->run_fits) return cavum_fail_memory(error);
  report->num_run_fits = count;
  for (int i = 0; i < count; i++) CAVUM_TRY(fit_run(&report->run_fits[i], report, i + 1, error));
done:
  return status;
}
