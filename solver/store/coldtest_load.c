// SPDX-License-Identifier: GPL-3.0-or-later
// Reads a cold-test file back, for pictures and reports. Every column has the length of the first.
#include "store/coldtest_load.h"

#include <stdio.h>
#include <string.h>

#include "base/base.h"
#include "hdf5/hdf5_file.h"
#include "store/as_built_file.h"
#include "store/chain_file.h"
#include "store/coldtest_file.h"
#include "store/coldtest_load_plans.h"
#include "store/coldtest_load_series.h"
#include "store/spread_file.h"

enum { MOST_POINTS = 10000000 };

static cavum_status damaged(const char *path, cavum_error *error) {
  return cavum_fail(error, CAVUM_ERR_INPUT, "cold-test file is damaged: shape of %s", path);
}

static cavum_status read_first_text(char **text, const cavum_hdf5_file *file, const char *path,
                                    cavum_error *error) {
  if (cavum_hdf5_has(file, path)) return cavum_hdf5_read_first_text(text, file, path, error);
  *text = cavum_copy_text("");
  return *text ? CAVUM_OK : cavum_fail_memory(error);
}

// A number that may be missing: 0 then, and where it is not finite.
static void read_optional(double *value, const cavum_hdf5_file *file, const char *path) {
  double number = 0.0;
  if (cavum_hdf5_has(file, path)) cavum_hdf5_read_number(&number, file, path, NULL);
  *value = isfinite(number) ? number : 0.0;
}

// The standard uncertainty of a number, 0 where there is none.
static void read_uncertainty(double *value, const cavum_hdf5_file *file, const char *path) {
  double number = 0.0;
  if (cavum_hdf5_has(file, path)) {
    cavum_hdf5_read_numbers_attribute(&number, 1, file, path, "uncertainty", NULL);
  }
  *value = isfinite(number) ? number : 0.0;
}

static cavum_status read_input(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                               cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_first_text(&test->set_aside, file, "/set_aside", error));
  CAVUM_TRY(read_first_text(&test->remarks, file, "/remarks", error));
  CAVUM_TRY(read_first_text(&test->title, file, "/input/title", error));
  CAVUM_TRY(read_first_text(&test->ended, file, "/input/ended", error));
  CAVUM_TRY(read_first_text(&test->test_text, file, "/input/test_file", error));
  CAVUM_TRY(read_first_text(&test->test_sha256, file, "/input/test_sha256", error));
  CAVUM_TRY(read_first_text(&test->readings_text, file, "/input/readings_text", error));
  CAVUM_TRY(read_first_text(&test->readings_sha256, file, "/input/readings_sha256", error));
  CAVUM_TRY(read_first_text(&test->version, file, "/input/version_cavum", error));
  CAVUM_TRY(read_first_text(&test->geometry_from, file, "/input/geometry/from", error));
  read_optional(&test->r_over_q_linac_ohm, file, "/input/geometry/r_over_q_linac");
  read_optional(&test->accelerating_length_m, file, "/input/geometry/accelerating_length");
  read_optional(&test->geometry_factor_ohm, file, "/input/geometry/geometry_factor");
  read_optional(&test->q_external, file, "/calibration/q_external");
  read_optional(&test->q_pickup, file, "/calibration/q_pickup");
  read_uncertainty(&test->q_external_uncertainty, file, "/calibration/q_external");
  read_uncertainty(&test->q_pickup_uncertainty, file, "/calibration/q_pickup");
  read_optional(&test->coverage, file, "/input/coverage");
  read_optional(&test->static_heat_w, file, "/input/static_heat_W");
  read_optional(&test->epk_over_eacc, file, "/input/geometry/epk_over_eacc");
  read_optional(&test->bpk_over_eacc_t_per_v_per_m, file, "/input/geometry/bpk_over_eacc");
done:
  return status;
}

static cavum_status read_points(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                                cavum_error *error) {
  static const char *const names[CAVUM_NUM_STORED_COLUMNS] = {
      [CAVUM_STORED_GRADIENT] = "gradient_V_per_m",
      [CAVUM_STORED_GRADIENT_U] = "gradient_V_per_m_uncertainty",
      [CAVUM_STORED_Q0] = "q0",
      [CAVUM_STORED_Q0_U] = "q0_uncertainty",
      [CAVUM_STORED_RESISTANCE] = "surface_resistance_ohm",
      [CAVUM_STORED_RESISTANCE_U] = "surface_resistance_ohm_uncertainty",
      [CAVUM_STORED_WALL_POWER] = "wall_power_W",
      [CAVUM_STORED_WALL_POWER_U] = "wall_power_W_uncertainty",
      [CAVUM_STORED_COUPLING] = "coupling",
      [CAVUM_STORED_COUPLING_U] = "coupling_uncertainty",
      [CAVUM_STORED_Q_LOADED] = "q_loaded",
      [CAVUM_STORED_Q_LOADED_U] = "q_loaded_uncertainty",
      [CAVUM_STORED_PEAK_E] = "peak_electric_field_V_per_m",
      [CAVUM_STORED_PEAK_E_U] = "peak_electric_field_V_per_m_uncertainty",
      [CAVUM_STORED_PEAK_B] = "peak_magnetic_field_T",
      [CAVUM_STORED_PEAK_B_U] = "peak_magnetic_field_T_uncertainty",
      [CAVUM_STORED_TEMPERATURE] = "bath_temperature_K",
      [CAVUM_STORED_RADIATION] = "radiation_Sv_per_h",
      [CAVUM_STORED_FORWARD] = "forward_power_W",
      [CAVUM_STORED_BATH_HEAT] = "bath_heat_W",
      [CAVUM_STORED_PRESSURE] = "bath_pressure_Pa",
      [CAVUM_STORED_FREQUENCY] = "frequency_Hz",
      [CAVUM_STORED_BRANCH] = "branch",
      [CAVUM_STORED_BY_DECAY] = "by_decay",
      [CAVUM_STORED_FLAGS] = "flags",
      [CAVUM_STORED_RUN] = "run"};
  cavum_status status = CAVUM_OK;
  char path[128];
  if (!cavum_hdf5_has(file, "/points")) return CAVUM_OK;
  for (int i = 0; i < CAVUM_NUM_STORED_COLUMNS; i++) {
    int64_t count = 0;
    snprintf(path, sizeof path, "/points/%s", names[i]);
    if (i > CAVUM_STORED_GRADIENT && !cavum_hdf5_has(file, path)) continue;
    CAVUM_TRY(cavum_hdf5_read_doubles(&test->column[i], &count, file, path, error));
    if (i == 0 && count <= MOST_POINTS) test->num_points = (int)count;
    if (count != test->num_points) CAVUM_TRY(damaged(path, error));
  }
done:
  return status;
}

static cavum_status read_notes(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                               cavum_error *error) {
  char **notes = NULL;
  int count = 0;
  if (!cavum_hdf5_has(file, "/points/note")) return CAVUM_OK;
  cavum_status status = cavum_hdf5_read_texts(&notes, &count, file, "/points/note", error);
  if (status != CAVUM_OK) return status;
  if (count == test->num_points) {
    test->notes = notes;
    return CAVUM_OK;
  }
  for (int i = 0; i < count; i++) free(notes[i]);
  free(notes);
  return damaged("/points/note", error);
}

static cavum_status read_budgets(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                                 cavum_error *error) {
  static const char *const paths[CAVUM_NUM_STORED_BUDGETS] = {
      [CAVUM_STORED_BUDGET_GRADIENT] = "/budgets/gradient_V_per_m",
      [CAVUM_STORED_BUDGET_Q0] = "/budgets/q0"};
  cavum_status status = CAVUM_OK;
  if (!cavum_hdf5_has(file, "/budgets/input_texts")) return CAVUM_OK;
  CAVUM_TRY(cavum_hdf5_read_texts(&test->input_texts, &test->num_inputs, file,
                                  "/budgets/input_texts", error));
  for (int i = 0; i < CAVUM_NUM_STORED_BUDGETS; i++) {
    int64_t count = 0;
    if (!cavum_hdf5_has(file, paths[i])) continue;
    CAVUM_TRY(cavum_hdf5_read_doubles(&test->budget[i], &count, file, paths[i], error));
    if (count != (int64_t)test->num_points * test->num_inputs) {
      CAVUM_TRY(damaged(paths[i], error));
    }
  }
done:
  return status;
}

static cavum_status read_fit(cavum_stored_fit *fit, const cavum_hdf5_file *file,
                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  const struct {
    const char *name;
    double *value;
  } numbers[] = {{"amplitude", &fit->amplitude_ohm_k},
                 {"gap", &fit->gap_k},
                 {"residual", &fit->residual_ohm},
                 {"chi_squared", &fit->chi_squared},
                 {"degrees_of_freedom", &fit->degrees_of_freedom}};
  double *covariance = NULL;
  int64_t count = 0;
  char path[96];
  if (!cavum_hdf5_has(file, "/surface_resistance/amplitude")) return CAVUM_OK;
  for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++) {
    snprintf(path, sizeof path, "/surface_resistance/%s", numbers[i].name);
    CAVUM_TRY(cavum_hdf5_read_number(numbers[i].value, file, path, error));
  }
  read_optional(&fit->gradient_v_per_m, file, "/surface_resistance/gradient");
  read_optional(&fit->gradient_tolerance, file, "/surface_resistance/gradient_tolerance");
  CAVUM_TRY(cavum_hdf5_read_text(fit->caution, sizeof fit->caution, file,
                                 "/surface_resistance/caution", NULL, error));
  CAVUM_TRY(
      cavum_hdf5_read_doubles(&covariance, &count, file, "/surface_resistance/covariance", error));
  if (count == 9) memcpy(fit->covariance, covariance, sizeof fit->covariance);
  fit->present = true;
done:
  free(covariance);
  return status;
}

static cavum_status check_format(const cavum_hdf5_file *file, const char *path,
                                 cavum_error *error) {
  char format[64] = "";
  cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (strncmp(format, "cavum coldtest ", 15) != 0) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: not a cold-test file of cavum", path);
  }
  if (!cavum_hdf5_has(file, "/points") && !cavum_hdf5_has(file, "/plans/1")) {
    return cavum_fail(error, CAVUM_ERR_INPUT, "%s: neither readings nor plans: nothing to show",
                      path);
  }
  return CAVUM_OK;
}

static cavum_status read_all(cavum_stored_coldtest *test, const cavum_hdf5_file *file,
                             cavum_error *error) {
  cavum_status status = CAVUM_OK;
  CAVUM_TRY(read_input(test, file, error));
  CAVUM_TRY(read_points(test, file, error));
  CAVUM_TRY(read_notes(test, file, error));
  CAVUM_TRY(read_budgets(test, file, error));
  CAVUM_TRY(read_fit(&test->fit, file, error));
  CAVUM_TRY(cavum_stored_coldtest_read_series(test, file, error));
  CAVUM_TRY(cavum_stored_coldtest_read_plans(test, file, error));
done:
  return status;
}

cavum_status cavum_stored_coldtest_read(cavum_stored_coldtest *test, const char *path,
                                        cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  memset(test, 0, sizeof *test);
  cavum_status status = cavum_hdf5_open(&file, path, error);
  if (status == CAVUM_OK) status = check_format(file, path, error);
  if (status == CAVUM_OK) status = read_all(test, file, error);
  cavum_hdf5_destroy(&file);
  return status;
}

cavum_status cavum_stored_coldtest_take(cavum_stored_coldtest *test,
                                        const cavum_coldtest_report *report, cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  memset(test, 0, sizeof *test);
  cavum_status status = cavum_coldtest_file_build(&file, report, error);
  if (status == CAVUM_OK) status = read_all(test, file, error);
  cavum_hdf5_destroy(&file);
  return status;
}

void cavum_stored_coldtest_clear(cavum_stored_coldtest *test) {
  if (!test) return;
  char *texts[] = {test->title,           test->test_text, test->test_sha256,   test->readings_text,
                   test->readings_sha256, test->version,   test->geometry_from, test->set_aside,
                   test->remarks,         test->ended};
  for (size_t i = 0; i < sizeof texts / sizeof texts[0]; i++) free(texts[i]);
  for (int i = 0; i < CAVUM_NUM_STORED_COLUMNS; i++) free(test->column[i]);
  for (int i = 0; i < CAVUM_NUM_STORED_BUDGETS; i++) free(test->budget[i]);
  for (int i = 0; test->notes && i < test->num_points; i++) free(test->notes[i]);
  free(test->notes);
  for (int i = 0; test->input_texts && i < test->num_inputs; i++) free(test->input_texts[i]);
  free(test->input_texts);
  cavum_stored_coldtest_clear_plans(test);
  cavum_stored_coldtest_clear_series(test);
  memset(test, 0, sizeof *test);
}

cavum_status cavum_stored_find_kind(cavum_stored_kind *kind, const char *path, cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  char format[64] = "";
  cavum_status status = cavum_hdf5_open(&file, path, error);
  if (status != CAVUM_OK) return status;
  cavum_hdf5_read_text(format, sizeof format, file, "/", "format", NULL);
  if (strncmp(format, "cavum result ", 13) == 0) {
    *kind = CAVUM_STORED_RESULT;
  } else if (strncmp(format, "cavum coldtest ", 15) == 0) {
    *kind = CAVUM_STORED_COLDTEST;
  } else if (strcmp(format, CAVUM_STORE_SPREAD_FORMAT) == 0) {
    *kind = CAVUM_STORED_SPREAD;
  } else if (strcmp(format, CAVUM_STORE_STEPS_FORMAT) == 0) {
    *kind = CAVUM_STORED_STEPS;
  } else if (strcmp(format, CAVUM_STORE_AS_BUILT_FORMAT) == 0) {
    *kind = CAVUM_STORED_AS_BUILT;
  } else if (cavum_hdf5_has(file, "/columns/status") &&
             cavum_hdf5_has(file, "/input/fingerprint")) {
    *kind = CAVUM_STORED_SCAN;
  } else if (strncmp(format, "cavum comparison ", 17) == 0) {
    status = cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s: a comparison of cold tests, without their readings: 'cavum compare "
                        "A.yaml B.yaml -o FILE' draws it (.png, .svg, .pdf) and reports it (.html)",
                        path);
  } else {
    status = cavum_fail(error, CAVUM_ERR_INPUT,
                        "%s: no file of cavum, expected a result, a cold test, a scan, a spread, "
                        "a chain of steps or a measured wall",
                        path);
  }
  cavum_hdf5_destroy(&file);
  return status;
}

cavum_status cavum_stored_read_text(char **text, const char *path, const char *object,
                                    cavum_error *error) {
  cavum_hdf5_file *file = NULL;
  cavum_status status = cavum_hdf5_open(&file, path, error);
  if (status == CAVUM_OK) status = read_first_text(text, file, object, error);
  cavum_hdf5_destroy(&file);
  return status;
}
