// SPDX-License-Identifier: GPL-3.0-or-later
// One test file from readings to everything it asks for.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sized.h"
#include "base/stop.h"
#include "base/units.h"
#include "cavum/coldtest_report.h"
#include "coldtest/coldtest_private.h"
#include "coldtest/report_log.h"
#include "coldtest/run_fits.h"
#include "coldtest/trace_remark.h"

static cavum_status copy_file(cavum_coldtest_report *report, const cavum_coldtest_file *file,
                              cavum_error *error) {
  report->file = *file;
  report->file.text = cavum_copy_text(file->text);
  return report->file.text ? CAVUM_OK : cavum_fail_memory(error);
}

static cavum_status run_plans(cavum_coldtest_report *report, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_file *file = &report->file;
  if (file->num_plans == 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no section plan in the test file");
  }
  for (int i = 0; i < file->num_plans; i++) {
    cavum_plan_request request = file->plans[i];
    if (request.frequency_hz <= 0.0) request.frequency_hz = file->setup.frequency_hz;
    if (request.frequency_hz <= 0.0) {
      return cavum_fail(error, CAVUM_ERR_INPUT,
                        "plan[%d]: no frequency: frequency_MHz was expected there or at the top",
                        i + 1);
    }
    CAVUM_TRY(cavum_coldtest_make_plan(&report->plans[i], &file->setup, &request, error));
    report->num_plans++;
  }
done:
  return status;
}

static cavum_status run_monte_carlo(cavum_coldtest_report *report,
                                    const cavum_coldtest_watch *watch, cavum_error *error) {
  int64_t count = cavum_coldtest_num_points(report->test);
  if (count > report->file.monte_carlo_points) {
    cavum_coldtest_tell(watch, CAVUM_LOG_NOTE,
                        "no Monte Carlo: %lld readings, the test file has it for %lld at most",
                        (long long)count, (long long)report->file.monte_carlo_points);
    return CAVUM_OK;
  }
  cavum_coldtest_tell(watch, CAVUM_LOG_PROGRESS, "Monte Carlo of %lld readings", (long long)count);
  report->monte_carlo = cavum_alloc(count, sizeof *report->monte_carlo);
  if (!report->monte_carlo) return cavum_fail_memory(error);
  report->num_monte_carlo = count;
  for (int64_t i = 0; i < count; i++) {
    cavum_status status =
        cavum_coldtest_run_monte_carlo(&report->monte_carlo[i], report->test, i, 0, error);
    // A point that its readings do not determine is reported as such; the others still count.
    if (status != CAVUM_OK && status != CAVUM_ERR_NOT_CONVERGED) return status;
  }
  return CAVUM_OK;
}

// What stands in the report goes on with the next trace: those of analyses are theirs, in order.
static void set_trace_aside(cavum_coldtest_report *report, int index) {
  cavum_coldtest_file *file = &report->file;
  for (int i = index; i + 1 < file->num_traces; i++) file->traces[i] = file->traces[i + 1];
  file->num_traces--;
  cavum_decay_analysis_clear(&report->analyses[index]);
}

static cavum_status run_trace(bool *kept, cavum_coldtest_report *report, int index,
                              cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  const cavum_coldtest_trace_entry *entry = &file->traces[index];
  cavum_decay_analysis *analysis = &report->analyses[index];
  cavum_decay_trace trace = {0};
  double frequency_hz = entry->frequency_hz > 0.0 ? entry->frequency_hz : file->setup.frequency_hz;
  cavum_status status = cavum_coldtest_read_trace(&trace, entry->path, error);
  if (status != CAVUM_OK) return status;
  status =
      cavum_decay_analyse(analysis, report->test, &trace, frequency_hz, &entry->options, error);
  if (status == CAVUM_OK) {
    *kept = cavum_coldtest_remark_on_trace(report->test, &trace, analysis, frequency_hz);
  }
  cavum_decay_trace_clear(&trace);
  return status;
}

// A trace that is no decay, or cannot be read, is set aside as a bad row is: the readings stay.
static cavum_status run_traces(cavum_coldtest_report *report, cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  report->analyses = cavum_alloc(file->num_traces, sizeof *report->analyses);
  if (!report->analyses) return cavum_fail_memory(error);
  while (report->num_analyses < file->num_traces) {
    bool kept = false;
    cavum_error fault = {0};
    cavum_status status = run_trace(&kept, report, report->num_analyses, &fault);
    if (status == CAVUM_ERR_INPUT) {
      cavum_coldtest_remark(report->test, "trace set aside: %s", fault.message);
    } else if (status != CAVUM_OK) {
      if (error) *error = fault;
      return status;
    }
    if (kept) {
      report->num_analyses++;
    } else {
      set_trace_aside(report, report->num_analyses);
    }
  }
  return CAVUM_OK;
}

static cavum_status run_resistance(cavum_coldtest_report *report, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_file *file = &report->file;
  if (file->fit_resistance) {
    CAVUM_TRY(cavum_resistance_make_fit(&report->fit, report->test, &file->resistance, error));
    report->has_fit = true;
    for (int i = 0; i < file->num_predictions; i++) {
      CAVUM_TRY(cavum_resistance_predict(&report->predictions[i], &report->fit, &file->setup,
                                         file->predictions[i].temperature_k,
                                         file->predictions[i].e_acc_v_per_m, error));
      report->num_predictions++;
    }
  }
done:
  return status;
}

// A fit at another field that is nearer supports a prediction better than the one that was used.
static void tell_nearer_fits(cavum_coldtest_report *report) {
  for (int i = 0; i < report->num_predictions && report->has_field; i++) {
    cavum_resistance_prediction *p = &report->predictions[i];
    const cavum_resistance_field_point *nearest = NULL;
    double least = fabs(p->e_acc_v_per_m - report->fit.e_acc_v_per_m);
    size_t used = strlen(p->caution);
    for (int k = 0; k < report->field.num_points; k++) {
      double off = fabs(p->e_acc_v_per_m - report->field.points[k].e_acc_v_per_m.value);
      if (!(off < least)) continue;
      least = off;
      nearest = &report->field.points[k];
    }
    if (!nearest || !strstr(p->caution, "independent of the field")) continue;
    snprintf(p->caution + used, sizeof p->caution - used,
             "; the fit at %.4g MV/m, %.4g K to %.4g K, is nearer",
             cavum_in_mv_per_m(nearest->e_acc_v_per_m.value), nearest->fit.lowest_k,
             nearest->fit.highest_k);
  }
}

static cavum_status run_field(cavum_coldtest_report *report, cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  if (file->resistance_field.num_gradients == 0) return CAVUM_OK;
  cavum_status status = cavum_resistance_make_field(&report->field, report->test,
                                                    &file->resistance_field, &file->wall, error);
  report->has_field = status == CAVUM_OK;
  tell_nearer_fits(report);
  return status;
}

static cavum_status run_flux(cavum_coldtest_report *report, cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  if (!file->has_trapped_flux) return CAVUM_OK;
  double sensitivity = file->flux_sensitivity_ohm_per_t;
  double frequency_hz = report->has_fit ? report->fit.frequency_hz : file->setup.frequency_hz;
  if (sensitivity <= 0.0 && !(frequency_hz > 0.0)) {
    return cavum_fail(error, CAVUM_ERR_INPUT,
                      "trapped_flux: the rule needs frequency_MHz, or a sensitivity");
  }
  if (sensitivity <= 0.0) sensitivity = cavum_trapped_flux_rule_ohm_per_t(frequency_hz);
  report->flux_sensitivity_ohm_per_t = sensitivity;
  report->flux_resistance_ohm =
      cavum_trapped_flux_resistance_ohm(file->ambient_field_t, file->trapped_fraction, sensitivity);
  return CAVUM_OK;
}

// Readings are an evening's work: a series that cannot be made of them does not cost the others.
// While a test is being taken that is as it should be; else it is a remark as well, which every
// output has.
static cavum_status unless_lacking(cavum_coldtest_report *report, cavum_status status,
                                   cavum_error *error, const cavum_error *found) {
  bool growing = report->file.setup.growing;
  bool lacks = status == CAVUM_ERR_INPUT || status == CAVUM_ERR_NOT_CONVERGED ||
               status == CAVUM_ERR_RANGE || (growing && status == CAVUM_ERR_FILE);
  if (lacks && report->num_waiting < CAVUM_COLDTEST_WAITING_MOST) {
    snprintf(report->waiting[report->num_waiting++], CAVUM_MESSAGE_SIZE, "%s", found->message);
    if (!growing) cavum_coldtest_remark(report->test, "not evaluated: %s", found->message);
    return CAVUM_OK;
  }
  if (status != CAVUM_OK && error) *error = *found;
  return status;
}

static cavum_status run_frequency(cavum_coldtest_report *report, cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  if (!file->fit_frequency) return CAVUM_OK;
  cavum_status status = cavum_frequency_make_fit(&report->frequency, report->test, &file->frequency,
                                                 &file->wall_pressure, error);
  report->has_frequency = status == CAVUM_OK;
  return status;
}

static cavum_status run_emission(cavum_coldtest_report *report, cavum_error *error) {
  const cavum_coldtest_file *file = &report->file;
  if (!file->evaluate_emission) return CAVUM_OK;
  cavum_status status =
      cavum_field_emission_evaluate(&report->emission, report->test, &file->emission, error);
  report->has_emission = status == CAVUM_OK;
  return status;
}

static cavum_status run_readings(cavum_coldtest_report *report,
                                 const cavum_coldtest_run_options *options,
                                 const cavum_coldtest_watch *watch, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_file *file = &report->file;
  cavum_coldtest_readings readings = {0};
  if (!file->readings_path[0]) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "no section readings in the test file");
  }
  cavum_coldtest_tell(watch, CAVUM_LOG_PROGRESS, "readings of %s", file->readings_path);
  CAVUM_TRY(cavum_coldtest_read_readings(&readings, file->readings_path, &file->setup, error));
  report->readings_text = readings.text;
  readings.text = NULL;
  memcpy(report->readings_sha256, readings.sha256, sizeof report->readings_sha256);
  CAVUM_TRY(cavum_coldtest_evaluate_taken(&report->test, &file->setup, &readings, error));
  if (!options->no_monte_carlo) CAVUM_TRY(run_monte_carlo(report, watch, error));
  static cavum_status (*const series[])(cavum_coldtest_report *, cavum_error *) = {
      run_traces, run_frequency, run_resistance, run_field, run_emission, run_flux};
  for (size_t i = 0; i < sizeof series / sizeof *series; i++) {
    cavum_error found = {0};
    CAVUM_TRY(cavum_stop_check(error));
    CAVUM_TRY(unless_lacking(report, series[i](report, &found), error, &found));
  }
  CAVUM_TRY(cavum_coldtest_fit_runs(report, error));
done:
  cavum_coldtest_readings_clear(&readings);
  return status;
}

static cavum_status run_all(cavum_coldtest_report **report, const cavum_coldtest_file *file,
                            const cavum_coldtest_run_options *options,
                            const cavum_coldtest_watch *watch, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_coldtest_report *made = cavum_alloc(1, sizeof *made);
  if (!made) return cavum_fail_memory(error);
  made->flux_resistance_ohm = NAN;
  CAVUM_TRY(copy_file(made, file, error));
  if (options->plan) {
    CAVUM_TRY(run_plans(made, error));
  } else {
    CAVUM_TRY(run_readings(made, options, watch, error));
  }
  *report = made;
  made = NULL;
done:
  cavum_coldtest_report_destroy(&made);
  return status;
}

static const cavum_sized WATCH = {.name = "watch",
                                  .maker = "cavum_coldtest_watch_default()",
                                  .first = sizeof(cavum_coldtest_watch),
                                  .full = sizeof(cavum_coldtest_watch)};

static const cavum_sized OPTIONS = {.name = "options of a cold test",
                                    .maker = "cavum_coldtest_run_options_default()",
                                    .first = sizeof(cavum_coldtest_run_options),
                                    .full = sizeof(cavum_coldtest_run_options)};

void cavum_coldtest_run_options_set_defaults(cavum_coldtest_run_options *options,
                                             size_t struct_size) {
  const cavum_coldtest_run_options defaults = {0};
  if (options) cavum_sized_give(options, struct_size, &defaults, &OPTIONS);
}

void cavum_coldtest_watch_set_defaults(cavum_coldtest_watch *watch, size_t struct_size) {
  const cavum_coldtest_watch defaults = {0};
  if (watch) cavum_sized_give(watch, struct_size, &defaults, &WATCH);
}

cavum_status cavum_coldtest_run_watched(cavum_coldtest_report **report,
                                        const cavum_coldtest_file *file,
                                        const cavum_coldtest_run_options *given_options,
                                        const cavum_coldtest_watch *given, cavum_error *error) {
  cavum_coldtest_run_options options = cavum_coldtest_run_options_default();
  cavum_coldtest_watch watch = {0};
  cavum_coldtest_report *made = NULL;
  if (!report || !file) return cavum_fail_null(error, __func__);
  cavum_status status = given ? cavum_sized_take(&watch, given, &WATCH, error) : CAVUM_OK;
  if (status == CAVUM_OK && given_options) {
    status = cavum_sized_take(&options, given_options, &OPTIONS, error);
  }
  if (status != CAVUM_OK) return status;
  cavum_stop stop = {.ask = watch.stop, .data = watch.stop_data};
  cavum_stop *before = cavum_stop_set(&stop);
  status = run_all(&made, file, &options, &watch, error);
  cavum_stop_set(before);
  // A request to stop that came after the last reading ends the evaluation, too.
  if (stop.stopped) {
    cavum_coldtest_report_destroy(&made);
    return cavum_fail(error, CAVUM_ERR_STOPPED, "the evaluation was stopped on request");
  }
  if (status != CAVUM_OK) return status;
  cavum_coldtest_tell_report(&watch, made);
  *report = made;
  return CAVUM_OK;
}

cavum_status cavum_coldtest_run(cavum_coldtest_report **report, const cavum_coldtest_file *file,
                                const cavum_coldtest_run_options *options, cavum_error *error) {
  if (!report || !file) return cavum_fail_null(error, __func__);
  return cavum_coldtest_run_watched(report, file, options, NULL, error);
}

void cavum_coldtest_report_destroy(cavum_coldtest_report **report) {
  if (!report || !*report) return;
  for (int i = 0; i < (*report)->num_analyses; i++) {
    cavum_decay_analysis_clear(&(*report)->analyses[i]);
  }
  cavum_field_emission_clear(&(*report)->emission);
  free((*report)->analyses);
  free((*report)->readings_text);
  free((*report)->run_fits);
  free((*report)->monte_carlo);
  cavum_coldtest_destroy(&(*report)->test);
  cavum_coldtest_file_clear(&(*report)->file);
  free(*report);
  *report = NULL;
}
