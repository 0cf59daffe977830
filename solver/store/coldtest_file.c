// SPDX-License-Identifier: GPL-3.0-or-later
// A cold test as an HDF5 file: input and provenance, points, budgets, Monte Carlo, traces, surface
// resistance, plans. Columns of one dataset each, in the order of the readings; NaN marks what a
// point does not have.
#include "store/coldtest_file.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "base/sha256.h"
#include "cavum/coldtest_report.h"
#include "hdf5/hdf5_file.h"
#include "store/coldtest_emission_file.h"
#include "store/coldtest_field_file.h"
#include "store/coldtest_plan_file.h"
#include "store/coldtest_runs_file.h"
#include "store/coldtest_series_file.h"
#include "store/coldtest_write.h"

// A budget is some seventy numbers a point; beyond this it would fill the memory.
static const int64_t MOST_BUDGETS = 100000;

// As many texts as are read back (cavum_hdf5_read_texts()).
static const int64_t MOST_NOTES = 10000;

// Attribute `format` of the root group; the number counts layouts.
static const char FORMAT[] = "cavum coldtest 1";

enum { PATH_SIZE = CAVUM_COLDTEST_PATH_SIZE };

static cavum_status write_input(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const cavum_coldtest_setup *setup = &report->file.setup;
  char fingerprint[65];
  cavum_sha256(fingerprint, report->file.text, strlen(report->file.text));
  CAVUM_TRY(
      cavum_coldtest_write_text(file, "/input/title", setup->title, "title of the test", error));
  if (setup->ended[0]) {
    CAVUM_TRY(
        cavum_coldtest_write_text(file, "/input/ended", setup->ended, "why the test ended", error));
  }
  CAVUM_TRY(cavum_coldtest_write_text(file, "/input/test_file", report->file.text,
                                      "the test file as it was read", error));
  CAVUM_TRY(cavum_coldtest_write_text(file, "/input/test_sha256", fingerprint,
                                      "SHA-256 of the text in test_file", error));
  CAVUM_TRY(cavum_coldtest_write_text(file, "/input/readings_file", report->file.readings_path,
                                      "file of the readings", error));
  if (report->readings_text) {
    CAVUM_TRY(cavum_coldtest_write_text(file, "/input/readings_text", report->readings_text,
                                        "the readings as they were read", error));
  }
  if (report->readings_sha256[0]) {
    CAVUM_TRY(cavum_coldtest_write_text(file, "/input/readings_sha256", report->readings_sha256,
                                        "SHA-256 of the file of the readings", error));
  }
  CAVUM_TRY(cavum_coldtest_write_text(file, "/input/version_cavum", cavum_version(),
                                      "version of cavum that computed and wrote this", error));
  CAVUM_TRY(cavum_coldtest_write_text(file, "/input/geometry/from", setup->geometry_from,
                                      "where the figures of the cavity come from", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/geometry/r_over_q_linac",
                                          cavum_coldtest_stated(setup->r_over_q_linac_ohm), "ohm",
                                          "R/Q, linac convention V^2/(omega U)", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/geometry/accelerating_length",
                                          cavum_coldtest_stated(setup->accelerating_length_m), "m",
                                          "accelerating length", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/geometry/geometry_factor",
                                          cavum_coldtest_stated(setup->geometry_factor_ohm), "ohm",
                                          "geometry factor", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/geometry/epk_over_eacc",
                                          cavum_coldtest_stated(setup->epk_over_eacc), "1",
                                          "E_pk / E_acc", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/geometry/bpk_over_eacc",
                                          cavum_coldtest_stated(setup->bpk_over_eacc_t_per_v_per_m),
                                          "T m V-1", "B_pk / E_acc", error));
  CAVUM_TRY(cavum_coldtest_write_estimate(file, "/input/static_heat_W",
                                          cavum_coldtest_stated(setup->static_heat_w), "W",
                                          "static heat of the bath", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/input/coverage", setup->coverage, "1",
                                        "coverage probability of intervals", error));
  CAVUM_TRY(cavum_coldtest_write_number(file, "/input/seed", (double)setup->seed, "1",
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
  CAVUM_TRY(cavum_coldtest_write_column(file, path, count, work, info.unit, name, error));
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
  SIDE_RUN,
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
    [SIDE_RUN] = {"/points/run", "1", "number of its run, from 1, in /runs; 0: none"},
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
    case SIDE_RUN:
      return reading->run;
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
    CAVUM_TRY(cavum_coldtest_write_column(file, SIDES[side].path, count, work, SIDES[side].units,
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
  if (count > MOST_NOTES) return CAVUM_OK;
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
      .long_name = "signed contribution of each input (/budgets/input_keys), readings as rows"};
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

// A calibration with what it is made of; a stated one has no readings.
static cavum_status write_calibration(cavum_hdf5_file *file, const char *path,
                                      const cavum_coldtest_calibration *c, const char *long_name,
                                      cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_estimate value = cavum_coldtest_stated(c->value);
  const struct {
    const char *name, *long_name;
    double value;
  } more[] = {
      {"readings", "readings with a decay time that gave it; 0: stated", (double)c->num_readings},
      {"chi_squared", "scatter of the readings about their mean", c->chi_squared},
      {"degrees_of_freedom", "readings less one, or 0", c->degrees_of_freedom}};
  CAVUM_TRY(cavum_coldtest_write_estimate(file, path, value, "1", long_name, error));
  for (size_t i = 0; i < sizeof more / sizeof *more && isfinite(value.value); i++) {
    char name[96];
    snprintf(name, sizeof name, "%s_%s", path, more[i].name);
    CAVUM_TRY(
        cavum_coldtest_write_number(file, name, more[i].value, "1", more[i].long_name, error));
  }
done:
  return status;
}

static cavum_status write_calibrations(cavum_hdf5_file *file, const cavum_coldtest *test,
                                       cavum_error *error) {
  cavum_coldtest_calibration pickup = cavum_coldtest_get_pickup(test);
  cavum_coldtest_calibration external = cavum_coldtest_get_external(test);
  cavum_status status = write_calibration(file, "/calibration/q_pickup", &pickup,
                                          "external quality factor Q_t of the pickup", error);
  if (status != CAVUM_OK) return status;
  return write_calibration(file, "/calibration/q_external", &external,
                           "external quality factor Q_e of the input coupler", error);
}

enum { NUM_MC_COLUMNS = 10 };

static double mc_column(const cavum_coldtest_monte_carlo *outcome, int result, int column) {
  const cavum_coldtest_distribution *d = &outcome->results[result];
  const double columns[NUM_MC_COLUMNS] = {
      d->mean,           d->uncertainty, d->low,         d->high,   d->symmetric_low,
      d->symmetric_high, d->linear_low,  d->linear_high, d->median, d->linear_holds};
  return outcome->num_draws > 0 ? columns[column] : NAN;
}

static cavum_status write_monte_carlo(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                                      cavum_error *error) {
  static const char *const groups[CAVUM_NUM_MC] = {"q0", "gradient_V_per_m",
                                                   "surface_resistance_ohm"};
  static const char *const units[CAVUM_NUM_MC] = {"1", "V m-1", "ohm"};
  static const char *const names[NUM_MC_COLUMNS] = {
      "mean",           "uncertainty", "shortest_low", "shortest_high", "symmetric_low",
      "symmetric_high", "linear_low",  "linear_high",  "median",        "linear_holds"};
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
      CAVUM_TRY(cavum_coldtest_write_column(file, path, count, work, units[result], names[column],
                                            error));
    }
  }
  for (int64_t i = 0; i < count; i++) work[i] = (double)report->monte_carlo[i].num_draws;
  CAVUM_TRY(cavum_coldtest_write_column(file, "/monte_carlo/draws", count, work, "1",
                                        "draws of each reading; 0: the powers do not determine it",
                                        error));
done:
  free(work);
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
    CAVUM_TRY(cavum_coldtest_write_text(file, "/set_aside", aside,
                                        "rows that were not evaluated, and why", error));
  }
  if (remarks[0]) {
    CAVUM_TRY(
        cavum_coldtest_write_text(file, "/remarks", remarks, "inputs that are implausible", error));
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
  CAVUM_TRY(cavum_coldtest_file_write_runs(file, report, error));
  if (report->num_monte_carlo > 0) CAVUM_TRY(write_monte_carlo(file, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_traces(file, report, error));
done:
  return status;
}

static cavum_status write_flux(cavum_hdf5_file *file, const cavum_coldtest_report *report,
                               cavum_error *error) {
  if (!isfinite(report->flux_resistance_ohm)) return CAVUM_OK;
  cavum_status status =
      cavum_coldtest_write_number(file, "/trapped_flux/resistance", report->flux_resistance_ohm,
                                  "ohm", "resistance by trapped flux, estimate", error);
  if (status != CAVUM_OK) return status;
  return cavum_coldtest_write_number(file, "/trapped_flux/sensitivity",
                                     report->flux_sensitivity_ohm_per_t, "ohm T-1",
                                     "resistance over trapped flux density", error);
}

cavum_status cavum_coldtest_file_build(cavum_hdf5_file **file, const cavum_coldtest_report *report,
                                       cavum_error *error) {
  cavum_status status = CAVUM_OK;
  cavum_hdf5_file *made = NULL;
  CAVUM_TRY(cavum_hdf5_create(&made, error));
  CAVUM_TRY(cavum_hdf5_write_text_attribute(made, "/", "format", FORMAT, error));
  CAVUM_TRY(write_input(made, report, error));
  if (report->test) CAVUM_TRY(write_test(made, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_fit(made, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_field(made, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_emission(made, report, error));
  CAVUM_TRY(write_flux(made, report, error));
  CAVUM_TRY(cavum_coldtest_file_write_limits(made, &report->file.setup, error));
  CAVUM_TRY(cavum_coldtest_file_write_plans(made, report, error));
  *file = made;
  made = NULL;
done:
  cavum_hdf5_destroy(&made);
  return status;
}

cavum_status cavum_store_write_coldtest(const char *path, const cavum_coldtest_report *report,
                                        cavum_error *error) {
  if (!path || !report) return cavum_fail_null(error, __func__);
  cavum_hdf5_file *file = NULL;
  cavum_status status = cavum_coldtest_file_build(&file, report, error);
  if (status == CAVUM_OK) {
    status = cavum_hdf5_save(file, path, report->test ? "coldtest" : "plan", error);
  }
  cavum_hdf5_destroy(&file);
  return status;
}
