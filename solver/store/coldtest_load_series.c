// SPDX-License-Identifier: GPL-3.0-or-later
// Reads series back. Every column of a group has the length of the first; what a file lacks is left
// empty, so that files of earlier versions are read.
#include "store/coldtest_load_series.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "cavum/coldtest_file.h"

enum { PATH_SIZE = 160, MOST_ROWS = 10000000 };

// A column of a group whose length is `*count`; that of the first column when it is below 0.
static cavum_status read_column(double **values, int *count, const cavum_hdf5_file *file,
                                const char *path, cavum_error *error) {
  int64_t found = 0;
  if (!cavum_hdf5_has(file, path)) return CAVUM_OK;
  cavum_status status = cavum_hdf5_read_doubles(values, &found, file, path, error);
  if (status != CAVUM_OK) return status;
  if (*count < 0 && found <= MOST_ROWS) *count = (int)found;
  if (found == *count) return CAVUM_OK;
  return cavum_fail(error, CAVUM_ERR_INPUT, "cold-test file is damaged: shape of %s", path);
}

static cavum_status read_both(cavum_stored_column *column, int *count, const cavum_hdf5_file *file,
                              const char *path, cavum_error *error) {
  char second[PATH_SIZE + sizeof "_uncertainty"];
  snprintf(second, sizeof second, "%s_uncertainty", path);
  cavum_status status = read_column(&column->value, count, file, path, error);
  if (status != CAVUM_OK) return status;
  return read_column(&column->uncertainty, count, file, second, error);
}

static void clear_column(cavum_stored_column *column) {
  free(column->value);
  free(column->uncertainty);
}

static cavum_status read_texts(char ***texts, int expected, const cavum_hdf5_file *file,
                               const char *path, cavum_error *error) {
  int count = 0;
  cavum_status status = cavum_hdf5_read_texts(texts, &count, file, path, error);
  if (status != CAVUM_OK || count == expected) return status;
  cavum_hdf5_free_texts(*texts, count);
  *texts = NULL;
  return cavum_fail(error, CAVUM_ERR_INPUT, "cold-test file is damaged: shape of %s", path);
}

static double number_or_nan(const cavum_hdf5_file *file, const char *path) {
  double value = NAN;
  if (cavum_hdf5_has(file, path)) cavum_hdf5_read_number(&value, file, path, NULL);
  return value;
}

static double uncertainty_or_nan(const cavum_hdf5_file *file, const char *path) {
  double value = NAN;
  if (cavum_hdf5_has_attribute(file, path, "uncertainty")) {
    cavum_hdf5_read_numbers_attribute(&value, 1, file, path, "uncertainty", NULL);
  }
  return value;
}

static cavum_status read_limits(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                                cavum_error *error) {
  static const char *const paths[] = {"/limits/name", "/limits/source", "/limits/quantity"};
  cavum_status status = CAVUM_OK;
  double *values = NULL;
  char **texts[3] = {NULL, NULL, NULL};
  int count = -1;
  if (!cavum_hdf5_has(file, "/limits/value")) return CAVUM_OK;
  CAVUM_TRY(read_column(&values, &count, file, "/limits/value", error));
  for (int k = 0; k < 3; k++) CAVUM_TRY(read_texts(&texts[k], count, file, paths[k], error));
  test->limits = cavum_alloc(count, sizeof *test->limits);
  if (!test->limits) {
    status = cavum_fail_memory(error);
    goto done;
  }
  test->num_limits = count;
  for (int i = 0; i < count; i++) {
    test->limits[i] = (cavum_stored_limit){texts[0][i], texts[1][i], texts[2][i], values[i]};
    texts[0][i] = texts[1][i] = texts[2][i] = NULL;
  }
done:
  for (int k = 0; k < 3; k++) cavum_hdf5_free_texts(texts[k], count);
  free(values);
  return status;
}

static cavum_status read_trace(cavum_stored_trace *trace, const cavum_hdf5_file *file, int number,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE], **texts = NULL;
#define TRACE_PATH(name) (snprintf(path, sizeof path, "/traces/%d/" name, number), path)
  if (cavum_hdf5_has(file, TRACE_PATH("file"))) {
    CAVUM_TRY(read_texts(&texts, 1, file, path, error));
    trace->file = texts[0];
    free(texts);
  }
  trace->num_samples = trace->num_windows = -1;
  CAVUM_TRY(
      read_column(&trace->time_s, &trace->num_samples, file, TRACE_PATH("residual_time_s"), error));
  CAVUM_TRY(
      read_column(&trace->residual, &trace->num_samples, file, TRACE_PATH("residual"), error));
  CAVUM_TRY(
      read_column(&trace->window_time_s, &trace->num_windows, file, TRACE_PATH("time_s"), error));
  CAVUM_TRY(read_both(&trace->q_loaded, &trace->num_windows, file, TRACE_PATH("q_loaded"), error));
  CAVUM_TRY(read_both(&trace->q0, &trace->num_windows, file, TRACE_PATH("q0"), error));
  CAVUM_TRY(read_both(&trace->gradient_v_per_m, &trace->num_windows, file,
                      TRACE_PATH("gradient_V_per_m"), error));
  trace->start_w = number_or_nan(file, TRACE_PATH("power_at_start"));
  trace->decay_time_s = number_or_nan(file, TRACE_PATH("decay_time_energy"));
  trace->decay_time_uncertainty_s = uncertainty_or_nan(file, path);
  trace->curvature = number_or_nan(file, TRACE_PATH("curvature"));
#undef TRACE_PATH
done:
  if (trace->num_samples < 0 || !trace->residual || !trace->time_s) trace->num_samples = 0;
  if (trace->num_windows < 0 || !trace->window_time_s) trace->num_windows = 0;
  return status;
}

static cavum_status read_traces(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                                cavum_error *error) {
  char path[PATH_SIZE];
  int count = 0;
  for (int i = 1; i <= CAVUM_MAX_TRACES; i++) {
    snprintf(path, sizeof path, "/traces/%d", i);
    if (!cavum_hdf5_has(file, path)) break;
    count = i;
  }
  if (count == 0) return CAVUM_OK;
  test->traces = cavum_alloc(count, sizeof *test->traces);
  if (!test->traces) return cavum_fail_memory(error);
  for (int i = 0; i < count; i++) {
    test->num_traces = i + 1;
    cavum_status status = read_trace(&test->traces[i], file, i + 1, error);
    if (status != CAVUM_OK) return status;
  }
  return CAVUM_OK;
}

#define PREDICTION(name) "/surface_resistance/predictions/" name

static cavum_status read_predictions(cavum_stored_predictions *p, const cavum_hdf5_file *file,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int count = -1;
  if (!cavum_hdf5_has(file, PREDICTION("q0"))) return CAVUM_OK;
  CAVUM_TRY(read_both(&p->q0, &count, file, PREDICTION("q0"), error));
  CAVUM_TRY(read_both(&p->temperature_k, &count, file, PREDICTION("bath_temperature_K"), error));
  CAVUM_TRY(read_both(&p->gradient_v_per_m, &count, file, PREDICTION("gradient_V_per_m"), error));
  CAVUM_TRY(
      read_both(&p->resistance_ohm, &count, file, PREDICTION("surface_resistance_ohm"), error));
  CAVUM_TRY(read_both(&p->wall_power_w, &count, file, PREDICTION("wall_power_W"), error));
  CAVUM_TRY(read_texts(&p->caution, count, file, PREDICTION("caution"), error));
  if (p->temperature_k.value && p->gradient_v_per_m.value && p->resistance_ohm.value &&
      p->wall_power_w.value) {
    p->count = count;
  }
done:
  // A column that is missing leaves the others unread; the texts are freed by their count.
  if (p->count == 0) cavum_hdf5_free_texts(p->caution, p->caution ? count : 0);
  if (p->count == 0) p->caution = NULL;
  return status;
}

#define FIELD "/surface_resistance_against_field/"

static cavum_status read_field(cavum_stored_field *field, const cavum_hdf5_file *file,
                               cavum_error *error) {
  static const char *const parts[CAVUM_NUM_STORED_PARTS] = {
      FIELD "points/bcs_ohm", FIELD "points/residual_ohm", FIELD "points/local_bcs_ohm",
      FIELD "points/local_residual_ohm"};
  static const char *const polynomials[CAVUM_NUM_STORED_PARTS] = {
      FIELD "bcs_ohm_of_mean", FIELD "residual_ohm_of_mean", FIELD "bcs_ohm_local",
      FIELD "residual_ohm_local"};
  cavum_status status = CAVUM_OK;
  int points = -1, terms = -1;
  CAVUM_TRY(
      read_both(&field->b_peak_t, &points, file, FIELD "points/peak_magnetic_field_T", error));
  if (points < 0) return CAVUM_OK;
  CAVUM_TRY(
      read_both(&field->gradient_v_per_m, &points, file, FIELD "points/gradient_V_per_m", error));
  for (int k = 0; k < CAVUM_NUM_STORED_PARTS; k++) {
    CAVUM_TRY(read_both(&field->part[k], &points, file, parts[k], error));
    CAVUM_TRY(read_both(&field->polynomial[k], &terms, file, polynomials[k], error));
  }
  field->reference_k = number_or_nan(file, FIELD "reference_temperature_K");
  field->num_points = points;
  field->num_terms = terms > 0 ? terms : 0;
done:
  return status;
}

#define FREQUENCY "/frequency/"

static void read_frequency(cavum_stored_frequency *f, const cavum_hdf5_file *file) {
  static const char lorentz[] = FREQUENCY "lorentz_Hz_m2_per_V2";
  static const char pressure[] = FREQUENCY "pressure_Hz_per_Pa";
  f->frequency_hz = number_or_nan(file, FREQUENCY "frequency_Hz");
  f->mean_pressure_pa = number_or_nan(file, FREQUENCY "mean_pressure_Pa");
  f->scatter_hz = number_or_nan(file, FREQUENCY "scatter_Hz");
  f->lorentz = number_or_nan(file, lorentz);
  f->lorentz_uncertainty = uncertainty_or_nan(file, lorentz);
  f->pressure = number_or_nan(file, pressure);
  f->pressure_uncertainty = uncertainty_or_nan(file, pressure);
  f->expected_lorentz = number_or_nan(file, FREQUENCY "expected_lorentz_Hz_m2_per_V2");
  f->expected_pressure = number_or_nan(file, FREQUENCY "expected_pressure_Hz_per_Pa");
  f->highest_v_per_m = number_or_nan(file, FREQUENCY "up_to_gradient_V_per_m");
  f->present = isfinite(f->frequency_hz) && isfinite(f->lorentz);
}

#define EMISSION "/field_emission/"

static cavum_status read_emission(cavum_stored_emission *e, int num_points,
                                  const cavum_hdf5_file *file, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  static const char background[] = EMISSION "background_Sv_per_h";
  static const char onset[] = EMISSION "onset_gradient_V_per_m";
  static const char slope[] = EMISSION "by_radiation/slope_V_per_m";
  static const char beta[] = EMISSION "by_radiation/field_enhancement";
  static const char by_power[] = EMISSION "by_power/field_enhancement";
  char **texts = NULL;
  e->num_points = num_points;
  if (!cavum_hdf5_has(file, background)) return CAVUM_OK;
  e->background_sv_per_h = number_or_nan(file, background);
  e->background_uncertainty_sv_per_h = uncertainty_or_nan(file, background);
  e->onset_v_per_m = number_or_nan(file, onset);
  e->onset_uncertainty_v_per_m = uncertainty_or_nan(file, onset);
  e->onset_sv_per_h = number_or_nan(file, EMISSION "onset_emission_Sv_per_h");
  e->reference_v_per_m = number_or_nan(file, EMISSION "by_radiation/reference_gradient_V_per_m");
  e->level_sv_per_h = number_or_nan(file, EMISSION "by_radiation/level_Sv_per_h");
  e->slope_v_per_m = number_or_nan(file, slope);
  e->slope_uncertainty_v_per_m = uncertainty_or_nan(file, slope);
  e->enhancement = number_or_nan(file, beta);
  e->enhancement_uncertainty = uncertainty_or_nan(file, beta);
  e->power_enhancement = number_or_nan(file, by_power);
  e->power_enhancement_uncertainty = uncertainty_or_nan(file, by_power);
  e->power_reference_v_per_m = number_or_nan(file, EMISSION "by_power/reference_gradient_V_per_m");
  e->power_level_a = number_or_nan(file, EMISSION "by_power/level_A");
  e->power_slope_v_per_m = number_or_nan(file, EMISSION "by_power/slope_V_per_m");
  e->work_function_ev = number_or_nan(file, EMISSION "work_function_eV");
  e->strongest_point = number_or_nan(file, EMISSION "strongest_point");
  CAVUM_TRY(read_both(&e->excess_sv_per_h, &num_points, file,
                      EMISSION "points/radiation_less_background_Sv_per_h", error));
  CAVUM_TRY(read_both(&e->power_w, &num_points, file, EMISSION "points/electron_power_W", error));
  if (cavum_hdf5_has(file, EMISSION "caution")) {
    CAVUM_TRY(read_texts(&texts, 1, file, EMISSION "caution", error));
    e->caution = texts[0];
    free(texts);
  }
  e->present = e->excess_sv_per_h.value && e->excess_sv_per_h.uncertainty && e->power_w.value &&
               e->power_w.uncertainty && isfinite(e->background_sv_per_h);
done:
  return status;
}

static cavum_status read_intervals(cavum_stored_intervals *intervals, const cavum_hdf5_file *file,
                                   cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *path;
    double **values;
  } columns[] = {{"/monte_carlo/q0/shortest_low", &intervals->q0_low},
                 {"/monte_carlo/q0/shortest_high", &intervals->q0_high},
                 {"/monte_carlo/gradient_V_per_m/shortest_low", &intervals->gradient_low},
                 {"/monte_carlo/gradient_V_per_m/shortest_high", &intervals->gradient_high}};
  int count = -1;
  bool all = true;
  for (int k = 0; k < 4; k++) {
    CAVUM_TRY(read_column(columns[k].values, &count, file, columns[k].path, error));
    all = all && *columns[k].values;
  }
  intervals->count = all ? count : 0;
done:
  return status;
}

static cavum_status read_runs(cavum_stored_runs *runs, const cavum_hdf5_file *file,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *path;
    double **values;
  } columns[] = {{"/runs/readings", &runs->readings},
                 {"/runs/lowest_gradient_V_per_m", &runs->lowest_v_per_m},
                 {"/runs/highest_gradient_V_per_m", &runs->highest_v_per_m},
                 {"/runs/ratio_gradient_V_per_m", &runs->ratio_v_per_m}};
  int count = -1;
  bool all = true;
  if (!cavum_hdf5_has(file, "/runs/name")) return CAVUM_OK;
  for (int k = 0; k < 4; k++) {
    CAVUM_TRY(read_column(columns[k].values, &count, file, columns[k].path, error));
    all = all && *columns[k].values;
  }
  CAVUM_TRY(read_both(&runs->q0_ratio, &count, file, "/runs/q0_over_first_run", error));
  if (!all || !runs->q0_ratio.value) return CAVUM_OK;
  for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) {
    char path[PATH_SIZE];
    snprintf(path, sizeof path, "/runs/%s", cavum_run_quantity_describe((cavum_run_quantity)k).key);
    CAVUM_TRY(read_both(&runs->fit[k], &count, file, path, error));
  }
  CAVUM_TRY(read_texts(&runs->name, count, file, "/runs/name", error));
  runs->count = count;
  if (cavum_hdf5_has(file, "/runs/fit_caution")) {
    CAVUM_TRY(read_texts(&runs->fit_caution, count, file, "/runs/fit_caution", error));
  }
done:
  return status;
}

cavum_status cavum_stored_coldtest_read_series(cavum_stored_coldtest *test,
                                               const cavum_hdf5_file *file, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_limits(test, file, error));
  CAVUM_TRY(read_traces(test, file, error));
  CAVUM_TRY(read_predictions(&test->predictions, file, error));
  CAVUM_TRY(read_field(&test->field, file, error));
  CAVUM_TRY(read_emission(&test->emission, test->num_points, file, error));
  CAVUM_TRY(read_intervals(&test->intervals, file, error));
  CAVUM_TRY(read_runs(&test->runs, file, error));
  // A test of another number of points than the intervals is damaged.
  if (test->intervals.count > test->num_points) test->intervals.count = 0;
  read_frequency(&test->frequency, file);
done:
  return status;
}

static void clear_trace(cavum_stored_trace *trace) {
  free(trace->file);
  free(trace->time_s);
  free(trace->residual);
  free(trace->window_time_s);
  clear_column(&trace->q_loaded);
  clear_column(&trace->q0);
  clear_column(&trace->gradient_v_per_m);
}

void cavum_stored_coldtest_clear_series(cavum_stored_coldtest *test) {
  for (int i = 0; i < test->num_limits; i++) {
    free(test->limits[i].name);
    free(test->limits[i].source);
    free(test->limits[i].quantity);
  }
  free(test->limits);
  for (int i = 0; i < test->num_traces; i++) clear_trace(&test->traces[i]);
  free(test->traces);
  cavum_stored_predictions *p = &test->predictions;
  cavum_hdf5_free_texts(p->caution, p->count);
  cavum_stored_column *columns[] = {&p->temperature_k,       &p->gradient_v_per_m,
                                    &p->resistance_ohm,      &p->q0,
                                    &p->wall_power_w,        &test->field.gradient_v_per_m,
                                    &test->field.b_peak_t,   &test->emission.excess_sv_per_h,
                                    &test->emission.power_w, &test->runs.q0_ratio};
  free(test->emission.caution);
  for (size_t i = 0; i < sizeof columns / sizeof *columns; i++) clear_column(columns[i]);
  for (int k = 0; k < CAVUM_NUM_STORED_PARTS; k++) {
    clear_column(&test->field.part[k]);
    clear_column(&test->field.polynomial[k]);
  }
  cavum_stored_intervals *m = &test->intervals;
  cavum_stored_runs *runs = &test->runs;
  cavum_hdf5_free_texts(runs->name, runs->count);
  cavum_hdf5_free_texts(runs->fit_caution, runs->count);
  for (int k = 0; k < CAVUM_NUM_RUN_QUANTITIES; k++) clear_column(&runs->fit[k]);
  double *arrays[] = {
      runs->readings, runs->lowest_v_per_m, runs->highest_v_per_m, runs->ratio_v_per_m,
      m->q0_low,      m->q0_high,           m->gradient_low,       m->gradient_high};
  for (size_t i = 0; i < sizeof arrays / sizeof *arrays; i++) free(arrays[i]);
}
