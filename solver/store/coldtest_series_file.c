// SPDX-License-Identifier: GPL-3.0-or-later
// Traces, surface resistance against temperature and predictions as HDF5. NaN marks what a row does
// not have.
#include "store/coldtest_series_file.h"

#include <stdio.h>

#include "base/base.h"
#include "store/coldtest_write.h"

enum { PATH_SIZE = CAVUM_COLDTEST_PATH_SIZE };

static cavum_estimate plain(double value) {
  return (cavum_estimate){.value = value, .uncertainty = NAN};
}

static double trace_column(const cavum_decay_point *point, int column) {
  const double columns[] = {
      point->time_s,         point->e_acc_v_per_m,        point->e_acc_uncertainty_v_per_m,
      point->q_loaded,       point->q_loaded_uncertainty, point->q0,
      point->q0_uncertainty, point->coverage_factor,      point->degrees_of_freedom,
      point->q0_statistical};
  return columns[column];
}

static cavum_status write_trace_numbers(cavum_hdf5_file *file, const cavum_decay_analysis *analysis,
                                        const char *source, int number, cavum_error *error) {
  const struct {
    const char *name, *units, *long_name;
    cavum_estimate estimate;
  } rows[] = {
      {"decay_time_energy", "s", "one exponential over the trace: energy decay time",
       analysis->decay_time_s},
      {"power_at_start", "W",
       "that exponential at the first of residual_time_s, at the pickup port",
       plain(analysis->start_w)},
      {"curvature", "1", "second-order term of ln P over its uncertainty",
       plain(analysis->curvature)},
      {"exponential", "1", "1: one decay time describes the trace", plain(analysis->exponential)},
      {"scatter", "1", "relative standard deviation of the residuals", plain(analysis->scatter)},
      {"chi_squared", "1", "of the exponential; NaN: no stated noise",
       plain(analysis->chi_squared)},
      {"chi_squared_degrees_of_freedom", "1", "samples less parameters",
       plain((double)analysis->degrees_of_freedom)},
      {"samples_used", "1", "samples used", plain((double)analysis->num_used)},
      {"samples_cut", "1", "left out as too near the noise floor",
       plain((double)analysis->num_cut)},
      {"samples_left_out", "1", "left out alone: far from those beside them",
       plain((double)analysis->num_outliers)}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    snprintf(path, sizeof path, "/traces/%d/%s", number, rows[i].name);
    CAVUM_TRY(cavum_coldtest_write_estimate(file, path, rows[i].estimate, rows[i].units,
                                            rows[i].long_name, error));
  }
  snprintf(path, sizeof path, "/traces/%d/file", number);
  CAVUM_TRY(cavum_coldtest_write_text(file, path, source, "file of the trace", error));
done:
  return status;
}

static cavum_status write_trace(cavum_hdf5_file *file, const cavum_decay_analysis *analysis,
                                const char *source, int number, cavum_error *error) {
  static const struct {
    const char *name, *units, *long_name;
  } columns[] = {{"time_s", "s", "centre of the window"},
                 {"gradient_V_per_m", "V m-1", "gradient E_acc"},
                 {"gradient_V_per_m_uncertainty", "V m-1", "standard uncertainty of E_acc"},
                 {"q_loaded", "1", "loaded Q"},
                 {"q_loaded_uncertainty", "1", "standard uncertainty of the loaded Q"},
                 {"q0", "1", "unloaded Q0"},
                 {"q0_uncertainty", "1", "standard uncertainty of Q0"},
                 {"coverage_factor", "1", "coverage factor of Q0"},
                 {"degrees_of_freedom", "1", "effective degrees of freedom of Q0"},
                 {"q0_uncertainty_of_window", "1", "part of it from the samples of the window"}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  double *work = cavum_alloc(analysis->num_points, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int column = 0; column < (int)(sizeof columns / sizeof *columns); column++) {
    for (int i = 0; i < analysis->num_points; i++) {
      work[i] = trace_column(&analysis->points[i], column);
    }
    snprintf(path, sizeof path, "/traces/%d/%s", number, columns[column].name);
    CAVUM_TRY(cavum_coldtest_write_column(file, path, analysis->num_points, work,
                                          columns[column].units, columns[column].long_name, error));
  }
  snprintf(path, sizeof path, "/traces/%d/residual", number);
  CAVUM_TRY(cavum_coldtest_write_column(file, path, analysis->num_used, analysis->residuals, "1",
                                        "ln P less the exponential", error));
  snprintf(path, sizeof path, "/traces/%d/residual_time_s", number);
  CAVUM_TRY(cavum_coldtest_write_column(file, path, analysis->num_used, analysis->residual_time_s,
                                        "s", "times of the residuals", error));
  CAVUM_TRY(write_trace_numbers(file, analysis, source, number, error));
done:
  free(work);
  return status;
}

static cavum_status write_parameters(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                     cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_resistance_fit *fit = &report->fit;
  const cavum_resistance_options *options = &report->file.resistance;
  CAVUM_TRY(cavum_coldtest_write_number(
      file, "/surface_resistance/gradient", options->e_acc_v_per_m, "V m-1",
      "gradient of the readings that were fitted; 0: all", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/gradient_tolerance",
                                        options->e_acc_tolerance, "1",
                                        "relative distance from it that still counts", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/surface_resistance/amplitude",
                                          fit->amplitude_ohm_k, "ohm K",
                                          "A of A exp(-gap/T)/T + residual", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/surface_resistance/gap", fit->gap_k, "K",
                                          "Delta / k in A exp(-gap/T)/T + residual", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/surface_resistance/residual", fit->residual_ohm,
                                          "ohm", "residual resistance", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/chi_squared", fit->chi_squared,
                                        "1", "weighted sum of squares; NaN: no own uncertainties",
                                        error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/degrees_of_freedom",
                                        fit->degrees_of_freedom, "1", "readings less parameters",
                                        error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/reference_temperature",
                                        fit->reference_k, "K",
                                        "temperature of the parameter ln R_BCS", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/readings",
                                        (double)fit->num_readings, "1", "readings that were fitted",
                                        error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/gap_fixed", fit->gap_fixed, "1",
                                        "1: the gap was held", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/probability", fit->probability,
                                        "1", "of a larger chi squared; NaN without one", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/mean_gradient",
                                        fit->e_acc_v_per_m, "V m-1", "mean over the readings",
                                        error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/lowest_temperature",
                                        fit->lowest_k, "K", "of the readings", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/surface_resistance/highest_temperature",
                                        fit->highest_k, "K", "of the readings", error));
  CAVUM_TRY(cavum_coldtest_write_text(file, "/surface_resistance/caution", fit->caution,
                                      "range of validity", error));
  cavum_hdf5_array array = {
      .path = "/surface_resistance/covariance",
      .rank = 2,
      .extent = {CAVUM_NUM_RESISTANCE_PARAMETERS, CAVUM_NUM_RESISTANCE_PARAMETERS},
      .data = fit->covariance,
      .units = "1",
      .long_name = "covariance of ln R_BCS at the reference, gap in K, residual in ohm"};
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
done:
  return status;
}

static cavum_status write_predictions(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                      cavum_error *error) {
  enum { COLUMNS = 5, MOST = CAVUM_MAX_PREDICTIONS };
  static const struct {
    const char *path, *units, *long_name;
  } texts[COLUMNS] = {
      {"/surface_resistance/predictions/bath_temperature_K", "K", "bath temperature"},
      {"/surface_resistance/predictions/gradient_V_per_m", "V m-1", "gradient"},
      {"/surface_resistance/predictions/surface_resistance_ohm", "ohm", "R_s of the fit there"},
      {"/surface_resistance/predictions/q0", "1", "G / R_s"},
      {"/surface_resistance/predictions/wall_power_W", "W", "heat to the bath"}};
  cavum_status status = CAVUM_OK;
  cavum_estimate columns[COLUMNS][MOST];
  const char *cautions[MOST];
  int count = report->num_predictions;
  if (count == 0) return CAVUM_OK;
  for (int i = 0; i < count; i++) {
    const cavum_resistance_prediction *p = &report->predictions[i];
    const cavum_estimate row[COLUMNS] = {{.value = p->temperature_k},
                                         {.value = p->e_acc_v_per_m},
                                         p->surface_resistance_ohm,
                                         p->q0,
                                         p->wall_power_w};
    for (int k = 0; k < COLUMNS; k++) columns[k][i] = row[k];
    cautions[i] = p->caution;
  }
  for (int k = 0; k < COLUMNS; k++) {
    CAVUM_TRY(cavum_coldtest_write_estimates(file, texts[k].path, count, columns[k], texts[k].units,
                                             texts[k].long_name, error));
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/surface_resistance/predictions/caution", count, cautions,
                                   "caution about each prediction", error));
done:
  return status;
}

cavum_status cavum_coldtest_file_write_traces(cavum_hdf5_file *file,
                                              const cavum_coldtest_report *report,
                                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  for (int i = 0; i < report->num_analyses; i++) {
    CAVUM_TRY(write_trace(file, &report->analyses[i], report->file.traces[i].path, i + 1, error));
  }
done:
  return status;
}

cavum_status cavum_coldtest_file_write_fit(cavum_hdf5_file *file,
                                           const cavum_coldtest_report *report,
                                           cavum_error *error) {
  if (!report->has_fit) return CAVUM_OK;
  cavum_status status = write_parameters(file, report, error);
  return status == CAVUM_OK ? write_predictions(file, report, error) : status;
}
