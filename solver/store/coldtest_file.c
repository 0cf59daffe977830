// SPDX-License-Identifier: GPL-3.0-or-later
// A cold test as an HDF5 file: input and provenance, points, budgets, Monte Carlo, traces, surface
// resistance, plans. Columns of one dataset each, in the order of the readings; NaN marks what a
// point does not have.
#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"
#include "store/coldtest_field_file.h"

// A budget is some seventy numbers a point; beyond this it would fill the memory.
static const int64_t MOST_BUDGETS = 100000;

// Attribute `format` of the root group; the number counts layouts.
static const char FORMAT[] = "cavum coldtest 1";

enum { PATH_SIZE = 192 };

/** One column of doubles. */
static cavum_status write_column(cavum_hdf5_file *file, const char *path, int64_t count,
                                 const double *data, const char *units, const char *long_name,
                                 cavum_error *error) {
  cavum_hdf5_array array = {.path = path,
                            .rank = 1,
                            .extent = {count, 1},
                            .data = data,
                            .units = units,
                            .long_name = long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_scalar(cavum_hdf5_file *file, const char *path, double value,
                                 const char *units, const char *long_name, cavum_error *error) {
  cavum_hdf5_array array = {.path = path, .data = &value, .units = units, .long_name = long_name};
  return cavum_hdf5_write_array(file, &array, error);
}

/** A value with its standard uncertainty as an attribute; absent when 0. */
static cavum_status write_estimate(cavum_hdf5_file *file, const char *path, cavum_estimate estimate,
                                   const char *units, const char *long_name, cavum_error *error) {
  if (estimate.value == 0.0) return CAVUM_OK;
  cavum_hdf5_attribute attribute = {
      .name = "uncertainty", .numbers = &estimate.uncertainty, .count = 1};
  cavum_hdf5_array array = {.path = path,
                            .data = &estimate.value,
                            .units = units,
                            .long_name = long_name,
                            .attributes = &attribute,
                            .num_attributes = 1};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_text(cavum_hdf5_file *file, const char *path, const char *text,
                               const char *long_name, cavum_error *error) {
  return cavum_hdf5_write_texts(file, path, 0, &text, long_name, error);
}

static cavum_status write_input(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_setup *setup = &report->file.setup;
  char fingerprint[65];
  cavum_sha256(fingerprint, report->file.text, strlen(report->file.text));
  CAVUM_TRY(write_text(file, "/input/title", setup->title, "title of the test", error));
  if (setup->ended[0]) {
    CAVUM_TRY(write_text(file, "/input/ended", setup->ended, "why the test ended", error));
  }
  CAVUM_TRY(write_text(file, "/input/test_file", report->file.text, "the test file as it was read",
                       error));
  CAVUM_TRY(write_text(file, "/input/test_sha256", fingerprint, "SHA-256 of the text in test_file",
                       error));
  CAVUM_TRY(write_text(file, "/input/readings_file", report->file.readings_path,
                       "file of the readings", error));
  if (report->readings_text) {
    CAVUM_TRY(write_text(file, "/input/readings_text", report->readings_text,
                         "the readings as they were read", error));
  }
  if (report->readings_sha256[0]) {
    CAVUM_TRY(write_text(file, "/input/readings_sha256", report->readings_sha256,
                         "SHA-256 of the file of the readings", error));
  }
  CAVUM_TRY(write_text(file, "/input/version_cavum", cavum_version(),
                       "version of cavum that computed and wrote this", error));
  CAVUM_TRY(write_text(file, "/input/geometry/from", setup->geometry_from,
                       "where the figures of the cavity come from", error));
  CAVUM_TRY(write_estimate(file, "/input/geometry/r_over_q_linac", setup->r_over_q_linac_ohm, "ohm",
                           "R/Q, linac convention V^2/(w U)", error));
  CAVUM_TRY(write_estimate(file, "/input/geometry/accelerating_length",
                           setup->accelerating_length_m, "m", "accelerating length", error));
  CAVUM_TRY(write_estimate(file, "/input/geometry/geometry_factor", setup->geometry_factor_ohm,
                           "ohm", "geometry factor", error));
  CAVUM_TRY(write_estimate(file, "/input/geometry/epk_over_eacc", setup->epk_over_eacc, "1",
                           "E_pk / E_acc", error));
  CAVUM_TRY(write_estimate(file, "/input/geometry/bpk_over_eacc",
                           setup->bpk_over_eacc_t_per_v_per_m, "T m V-1", "B_pk / E_acc", error));
  CAVUM_TRY(write_scalar(file, "/input/coverage", setup->coverage, "1",
                         "coverage probability of intervals", error));
  CAVUM_TRY(write_scalar(file, "/input/seed", (double)setup->seed, "1",
                         "seed of the Monte Carlo draws", error));
done:
  return status;
}

static cavum_status write_quantity(cavum_hdf5_file *file, const cavum_coldtest *test, double *work,
                                   cavum_coldtest_quantity quantity, cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = cavum_coldtest_num_points(test);
  cavum_coldtest_quantity_info info = cavum_coldtest_describe_quantity(quantity);
  char path[PATH_SIZE], name[PATH_SIZE];
  bool any = false;
  for (int64_t i = 0; i < count; i++) {
    work[i] = cavum_coldtest_get_point(test, i)->value[quantity];
    any = any || !isnan(work[i]);
  }
  if (!any) return CAVUM_OK;
  cavum_hdf5_attribute definition = {.name = "definition", .text = info.definition};
  snprintf(path, sizeof path, "/points/%s", info.key);
  cavum_hdf5_array array = {.path = path,
                            .rank = 1,
                            .extent = {count, 1},
                            .data = work,
                            .units = info.unit,
                            .long_name = info.long_name,
                            .attributes = &definition,
                            .num_attributes = 1};
  CAVUM_TRY(cavum_hdf5_write_array(file, &array, error));
  for (int64_t i = 0; i < count; i++) {
    work[i] = cavum_coldtest_get_point(test, i)->uncertainty[quantity];
  }
  snprintf(path, sizeof path, "/points/%s_uncertainty", info.key);
  snprintf(name, sizeof name, "standard uncertainty, %s", info.long_name);
  CAVUM_TRY(write_column(file, path, count, work, info.unit, name, error));
done:
  return status;
}

/** What /points holds beside the results. */
enum {
  SIDE_TEMPERATURE,
  SIDE_RADIATION,
  SIDE_PRESSURE,
  SIDE_FREQUENCY,
  SIDE_CORRELATION,
  SIDE_BRANCH,
  SIDE_DECAY,
  SIDE_FLAGS,
  SIDE_LINE,
  NUM_SIDES
};

static const struct side {
  const char *path, *units, *long_name;
} SIDES[NUM_SIDES] = {
    [SIDE_TEMPERATURE] = {"/points/bath_temperature_K", "K", "bath temperature"},
    [SIDE_RADIATION] = {"/points/radiation_Sv_per_h", "Sv h-1", "radiation dose rate"},
    [SIDE_PRESSURE] = {"/points/bath_pressure_Pa", "Pa", "bath pressure"},
    [SIDE_FREQUENCY] = {"/points/frequency_Hz", "Hz", "frequency as it was read"},
    [SIDE_CORRELATION] = {"/points/correlation_q0_gradient", "1", "correlation of Q0 and E_acc"},
    [SIDE_BRANCH] = {"/points/branch", "1", "1: overcoupled, -1: undercoupled, 0: not known"},
    [SIDE_DECAY] = {"/points/by_decay", "1", "1: from the decay time, 0: from the pickup"},
    [SIDE_FLAGS] = {"/points/flags", "1", "bits of the flags, named in /flag_keys"},
    [SIDE_LINE] = {"/points/line", "1", "line in the file of the readings"},
};

static double side_value(const cavum_coldtest *test, int64_t index, int side) {
  const cavum_coldtest_point *point = cavum_coldtest_get_point(test, index);
  const cavum_coldtest_reading *reading = cavum_coldtest_get_reading(test, index);
  switch (side) {
    case SIDE_TEMPERATURE:
      return reading->bath_temperature_k;
    case SIDE_RADIATION:
      return reading->radiation_sv_per_h;
    case SIDE_PRESSURE:
      return reading->bath_pressure_pa;
    case SIDE_FREQUENCY:
      return reading->frequency_hz;
    case SIDE_CORRELATION:
      return point->correlation;
    case SIDE_BRANCH:
      return (point->branch == CAVUM_BRANCH_OVER) - (point->branch == CAVUM_BRANCH_UNDER);
    case SIDE_DECAY:
      return point->by_decay;
    case SIDE_FLAGS:
      return point->flags;
    default:
      return (double)reading->line;
  }
}

static cavum_status write_points(cavum_hdf5_file *file, const cavum_coldtest *test,
                                 cavum_error *error) {
  cavum_status status = CAVUM_OK;
  int64_t count = cavum_coldtest_num_points(test);
  const char *keys[CAVUM_NUM_FLAGS];
  double *work = cavum_alloc(count, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int i = 0; i < CAVUM_NUM_QUANTITIES; i++) {
    CAVUM_TRY(write_quantity(file, test, work, (cavum_coldtest_quantity)i, error));
  }
  for (int side = 0; side < NUM_SIDES; side++) {
    for (int64_t i = 0; i < count; i++) work[i] = side_value(test, i, side);
    CAVUM_TRY(write_column(file, SIDES[side].path, count, work, SIDES[side].units,
                           SIDES[side].long_name, error));
  }
  for (int i = 0; i < CAVUM_NUM_FLAGS; i++)
    keys[i] = cavum_coldtest_flag_key((cavum_coldtest_flag)i);
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/flag_keys", CAVUM_NUM_FLAGS, keys,
                                   "name of each bit of /points/flags", error));
done:
  free(work);
  return status;
}

// Absent when no reading has a note. All have the length of the longest, so that many are left to
// the text of the readings.
static cavum_status write_notes(cavum_hdf5_file *file, const cavum_coldtest *test,
                                cavum_error *error) {
  int64_t count = cavum_coldtest_num_points(test);
  bool any = false;
  if (count > MOST_BUDGETS) return CAVUM_OK;
  const char **notes = cavum_alloc(count, sizeof *notes);
  if (!notes) return cavum_fail_memory(error);
  for (int64_t i = 0; i < count; i++) {
    notes[i] = cavum_coldtest_get_note(test, i);
    any = any || notes[i][0];
  }
  cavum_status status = CAVUM_OK;
  if (any) {
    status = cavum_hdf5_write_texts(file, "/points/note", (int)count, notes, "note of the reading",
                                    error);
  }
  free(notes);
  return status;
}

static cavum_status write_budget(cavum_hdf5_file *file, const cavum_coldtest *test, double *work,
                                 cavum_coldtest_quantity quantity, cavum_error *error) {
  int64_t count = cavum_coldtest_num_points(test);
  cavum_coldtest_quantity_info info = cavum_coldtest_describe_quantity(quantity);
  char path[PATH_SIZE];
  bool any = false;
  for (int64_t i = 0; i < count; i++) {
    cavum_coldtest_budget budget;
    bool has = cavum_coldtest_make_budget(&budget, test, i, quantity, NULL) == CAVUM_OK;
    any = any || has;
    for (int k = 0; k < CAVUM_NUM_INPUTS; k++) {
      work[i * CAVUM_NUM_INPUTS + k] = has ? budget.contribution[k] : NAN;
    }
  }
  if (!any) return CAVUM_OK;
  snprintf(path, sizeof path, "/budgets/%s", info.key);
  cavum_hdf5_array array = {
      .path = path,
      .rank = 2,
      .extent = {count, CAVUM_NUM_INPUTS},
      .data = work,
      .units = info.unit,
      .long_name = "signed contribution of each input (/budgets/input_keys), points as rows"};
  return cavum_hdf5_write_array(file, &array, error);
}

static cavum_status write_budgets(cavum_hdf5_file *file, const cavum_coldtest *test,
                                  cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const char *keys[CAVUM_NUM_INPUTS], *texts[CAVUM_NUM_INPUTS];
  if (cavum_coldtest_num_points(test) > MOST_BUDGETS) return CAVUM_OK;
  double *work = cavum_alloc(cavum_coldtest_num_points(test), CAVUM_NUM_INPUTS * sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int i = 0; i < CAVUM_NUM_INPUTS; i++) {
    keys[i] = cavum_coldtest_input_key((cavum_coldtest_input)i);
    texts[i] = cavum_coldtest_input_text((cavum_coldtest_input)i);
  }
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/budgets/input_keys", CAVUM_NUM_INPUTS, keys,
                                   "inputs, in the order of the columns", error));
  CAVUM_TRY(cavum_hdf5_write_texts(file, "/budgets/input_texts", CAVUM_NUM_INPUTS, texts,
                                   "what the inputs are", error));
  CAVUM_TRY(write_budget(file, test, work, CAVUM_QUANTITY_Q0, error));
  CAVUM_TRY(write_budget(file, test, work, CAVUM_QUANTITY_E_ACC, error));
  CAVUM_TRY(write_budget(file, test, work, CAVUM_QUANTITY_SURFACE_RESISTANCE, error));
done:
  free(work);
  return status;
}

static cavum_status write_calibrations(cavum_hdf5_file *file, const cavum_coldtest *test,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(write_estimate(file, "/calibration/q_pickup", cavum_coldtest_get_pickup(test).value,
                           "1", "pickup Q_t", error));
  CAVUM_TRY(write_estimate(file, "/calibration/q_external", cavum_coldtest_get_external(test).value,
                           "1", "input coupler Q_e", error));
done:
  return status;
}

enum { NUM_MC_COLUMNS = 6 };

static double mc_column(const cavum_coldtest_monte_carlo *outcome, int result, int column) {
  const cavum_coldtest_distribution *d = &outcome->results[result];
  const double columns[NUM_MC_COLUMNS] = {d->mean, d->uncertainty,   d->low,
                                          d->high, d->symmetric_low, d->symmetric_high};
  return outcome->num_draws > 0 ? columns[column] : NAN;
}

static cavum_status write_monte_carlo(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                      cavum_error *error) {
  static const char *const groups[CAVUM_NUM_MC] = {"q0", "gradient_V_per_m",
                                                   "surface_resistance_ohm"};
  static const char *const units[CAVUM_NUM_MC] = {"1", "V m-1", "ohm"};
  static const char *const names[NUM_MC_COLUMNS] = {
      "mean", "uncertainty", "shortest_low", "shortest_high", "symmetric_low", "symmetric_high"};
  cavum_status status = CAVUM_OK;
  int64_t count = report->num_monte_carlo;
  char path[PATH_SIZE];
  double *work = cavum_alloc(count, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int result = 0; result < CAVUM_NUM_MC; result++) {
    if (result == CAVUM_MC_SURFACE_RESISTANCE &&
        isnan(report->monte_carlo[0].results[result].mean)) {
      continue;
    }
    for (int column = 0; column < NUM_MC_COLUMNS; column++) {
      for (int64_t i = 0; i < count; i++) {
        work[i] = mc_column(&report->monte_carlo[i], result, column);
      }
      snprintf(path, sizeof path, "/monte_carlo/%s/%s", groups[result], names[column]);
      CAVUM_TRY(write_column(file, path, count, work, units[result], names[column], error));
    }
  }
  for (int64_t i = 0; i < count; i++) work[i] = (double)report->monte_carlo[i].num_draws;
  CAVUM_TRY(write_column(file, "/monte_carlo/draws", count, work, "1",
                         "draws of each point; 0: the readings do not determine it", error));
done:
  free(work);
  return status;
}

static double trace_column(const cavum_decay_point *point, int column) {
  const double columns[] = {
      point->time_s,         point->e_acc_v_per_m,        point->e_acc_uncertainty_v_per_m,
      point->q_loaded,       point->q_loaded_uncertainty, point->q0,
      point->q0_uncertainty, point->coverage_factor};
  return columns[column];
}

static cavum_status write_trace(cavum_hdf5_file *file, const cavum_decay_analysis *analysis,
                                int number, cavum_error *error) {
  static const struct {
    const char *name, *units, *long_name;
  } columns[] = {{"time_s", "s", "centre of the window"},
                 {"gradient_V_per_m", "V m-1", "gradient E_acc"},
                 {"gradient_V_per_m_uncertainty", "V m-1", "standard uncertainty of E_acc"},
                 {"q_loaded", "1", "loaded Q"},
                 {"q_loaded_uncertainty", "1", "standard uncertainty of the loaded Q"},
                 {"q0", "1", "unloaded Q0"},
                 {"q0_uncertainty", "1", "standard uncertainty of Q0"},
                 {"coverage_factor", "1", "coverage factor of Q0"}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  double *work = cavum_alloc(analysis->num_points, sizeof *work);
  if (!work) return cavum_fail_memory(error);
  for (int column = 0; column < (int)(sizeof columns / sizeof *columns); column++) {
    for (int i = 0; i < analysis->num_points; i++) {
      work[i] = trace_column(&analysis->points[i], column);
    }
    snprintf(path, sizeof path, "/traces/%d/%s", number, columns[column].name);
    CAVUM_TRY(write_column(file, path, analysis->num_points, work, columns[column].units,
                           columns[column].long_name, error));
  }
  snprintf(path, sizeof path, "/traces/%d/decay_time_energy", number);
  CAVUM_TRY(write_estimate(file, path, analysis->decay_time_s, "s",
                           "one exponential over the trace: energy decay time", error));
  snprintf(path, sizeof path, "/traces/%d/curvature", number);
  CAVUM_TRY(write_scalar(file, path, analysis->curvature, "1",
                         "second-order term of ln P over its uncertainty", error));
  snprintf(path, sizeof path, "/traces/%d/residual", number);
  CAVUM_TRY(write_column(file, path, analysis->num_used, analysis->residuals, "1",
                         "ln P less the exponential", error));
  snprintf(path, sizeof path, "/traces/%d/residual_time_s", number);
  CAVUM_TRY(write_column(file, path, analysis->num_used, analysis->residual_time_s, "s",
                         "times of the residuals", error));
done:
  free(work);
  return status;
}

static cavum_status write_fit(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                              cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_resistance_fit *fit = &report->fit;
  const cavum_resistance_options *options = &report->file.resistance;
  CAVUM_TRY(write_scalar(file, "/surface_resistance/gradient", options->e_acc_v_per_m, "V m-1",
                         "gradient of the readings that were fitted; 0: all", error));
  CAVUM_TRY(write_scalar(file, "/surface_resistance/gradient_tolerance", options->e_acc_tolerance,
                         "1", "relative distance from it that still counts", error));
  cavum_estimate residual = fit->residual_ohm;
  CAVUM_TRY(write_estimate(file, "/surface_resistance/amplitude", fit->amplitude_ohm_k, "ohm K",
                           "A of A exp(-gap/T)/T + residual", error));
  CAVUM_TRY(write_estimate(file, "/surface_resistance/gap", fit->gap_k, "K",
                           "Delta / k in A exp(-gap/T)/T + residual", error));
  CAVUM_TRY(write_estimate(file, "/surface_resistance/residual", residual, "ohm",
                           "residual resistance", error));
  CAVUM_TRY(write_scalar(file, "/surface_resistance/chi_squared", fit->chi_squared, "1",
                         "weighted sum of squares; NaN: no own uncertainties", error));
  CAVUM_TRY(write_scalar(file, "/surface_resistance/degrees_of_freedom", fit->degrees_of_freedom,
                         "1", "readings less parameters", error));
  CAVUM_TRY(write_scalar(file, "/surface_resistance/reference_temperature", fit->reference_k, "K",
                         "temperature of the parameter ln R_BCS", error));
  CAVUM_TRY(
      write_text(file, "/surface_resistance/caution", fit->caution, "range of validity", error));
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

static cavum_status write_plan(cavum_hdf5_file *file, const cavum_plan *plan, int number,
                               cavum_error *error) {
  const struct {
    const char *name, *units, *long_name;
    double value;
  } rows[] = {
      {"forward_power", "W", "forward power", plan->state.power_w[CAVUM_CHANNEL_FORWARD]},
      {"reflected_power", "W", "reflected power", plan->state.power_w[CAVUM_CHANNEL_REFLECTED]},
      {"transmitted_power", "W", "pickup power", plan->state.power_w[CAVUM_CHANNEL_TRANSMITTED]},
      {"wall_power", "W", "wall power", plan->state.wall_power_w},
      {"q_loaded", "1", "loaded Q", plan->state.q_loaded},
      {"coupling", "1", "coupling beta*", plan->state.coupling},
      {"decay_time_energy", "s", "energy decay time", plan->state.decay_time_s},
      {"bandwidth", "Hz", "full bandwidth at half power", plan->state.bandwidth_hz},
      {"stored_energy", "J", "stored energy", plan->stored_energy_j},
      {"voltage", "V", "accelerating voltage", plan->voltage_v},
      {"peak_electric_field", "V m-1", "peak electric field", plan->e_peak_v_per_m},
      {"peak_magnetic_field", "T", "peak magnetic field", plan->b_peak_t},
      {"forward_meter", "W", "forward power at the meter", plan->meter_w[CAVUM_CHANNEL_FORWARD]},
      {"reflected_meter", "W", "reflected power at the meter",
       plan->meter_w[CAVUM_CHANNEL_REFLECTED]},
      {"transmitted_meter", "W", "pickup power at the meter",
       plan->meter_w[CAVUM_CHANNEL_TRANSMITTED]},
      {"emitted_meter", "W", "emitted power at the meter, at switch-off",
       plan->meter_w[CAVUM_CHANNEL_EMITTED]},
      {"q0_relative_uncertainty_by_decay", "1", "expected for Q0, reading with a decay time",
       plan->by_decay.q0_relative},
      {"gradient_relative_uncertainty_by_decay", "1", "expected for E_acc, with a decay time",
       plan->by_decay.e_acc_relative},
      {"q0_relative_uncertainty_by_pickup", "1", "expected for Q0, reading by the pickup",
       plan->by_pickup.q0_relative},
      {"gradient_relative_uncertainty_by_pickup", "1", "expected for E_acc, by the pickup",
       plan->by_pickup.e_acc_relative}};
  cavum_status status = CAVUM_OK;
  char path[PATH_SIZE];
  for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
    snprintf(path, sizeof path, "/plans/%d/%s", number, rows[i].name);
    CAVUM_TRY(write_scalar(file, path, rows[i].value, rows[i].units, rows[i].long_name, error));
  }
done:
  return status;
}

// Rows set aside and remarks, a line each; absent when there are none.
static cavum_status write_words(cavum_hdf5_file *file, const cavum_coldtest *test,
                                cavum_error *error) {
  char *aside = NULL, *remarks = NULL;
  size_t size = 0;
  cavum_status status = CAVUM_OK;
  FILE *out = open_memstream(&aside, &size);
  if (!out) return cavum_fail_memory(error);
  for (int64_t i = 0; i < cavum_coldtest_num_set_aside(test); i++) {
    const cavum_coldtest_set_aside *row = cavum_coldtest_get_set_aside(test, i);
    fprintf(out, "line %lld: %s\n", (long long)row->line, row->reason);
  }
  bool good = fclose(out) == 0;
  out = good ? open_memstream(&remarks, &size) : NULL;
  for (int i = 0; out && i < cavum_coldtest_num_remarks(test); i++) {
    fprintf(out, "%s\n", cavum_coldtest_get_remark(test, i));
  }
  if (!out || fclose(out) != 0) {
    status = cavum_fail_memory(error);
    goto done;
  }
  if (aside[0]) {
    CAVUM_TRY(
        write_text(file, "/set_aside", aside, "rows that were not evaluated, and why", error));
  }
  if (remarks[0]) {
    CAVUM_TRY(
        write_text(file, "/remarks", remarks, "what is stated but can hardly be meant", error));
  }
done:
  free(aside);
  free(remarks);
  return status;
}

static cavum_status write_test(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(write_points(file, report->test, error));
  CAVUM_TRY(write_notes(file, report->test, error));
  CAVUM_TRY(write_budgets(file, report->test, error));
  CAVUM_TRY(write_calibrations(file, report->test, error));
  CAVUM_TRY(write_words(file, report->test, error));
  if (report->num_monte_carlo > 0) CAVUM_TRY(write_monte_carlo(file, report, error));
  for (int i = 0; i < report->num_analyses; i++) {
    CAVUM_TRY(write_trace(file, &report->analyses[i], i + 1, error));
  }
done:
  return status;
}

cavum_status cavum_store_write_coldtest(const char *path, const cavum_coldtest_report *report,
                                        cavum_error *error) {
  if (!path || !report) return cavum_fail_null(error, __func__);
  cavum_status status = CAVUM_OK;
  cavum_hdf5_file *file = NULL;
  CAVUM_TRY(cavum_hdf5_create(&file, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(file, "/", "format", FORMAT, error));
  CAVUM_TRY(write_input(file, report, error));
  if (report->test) CAVUM_TRY(write_test(file, report, error));
  if (report->has_fit) CAVUM_TRY(write_fit(file, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_field(file, report, error));
  if (isfinite(report->flux_resistance_ohm)) {
    CAVUM_TRY(write_scalar(file, "/trapped_flux/resistance", report->flux_resistance_ohm, "ohm",
                           "resistance by trapped flux, estimate", error));
  }
  for (int i = 0; i < report->num_plans; i++) {
    CAVUM_TRY(write_plan(file, &report->plans[i], i + 1, error));
  }
  CAVUM_TRY(cavum_hdf5_save(file, path, "coldtest", error));
done:
  cavum_hdf5_destroy(&file);
  return status;
}
