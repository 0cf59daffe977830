// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_file.h
 * Cold-test files: the test (YAML), its readings and its decay traces (CSV).
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_FILE_H
#define CAVUM_COLDTEST_FILE_H

#include "cavum/coldtest_emission.h"
#include "cavum/coldtest_field.h"
#include "cavum/coldtest_frequency.h"

#ifdef __cplusplus
extern "C" {
#endif

enum {
  CAVUM_MAX_TRACES = 16,
  CAVUM_MAX_PREDICTIONS = 16,
  CAVUM_MAX_PLANS = 64,
  CAVUM_PATH_SIZE = 1024
};

/** A decay trace of a test file. */
typedef struct cavum_coldtest_trace_entry {
  char path[CAVUM_PATH_SIZE]; /**< Relative paths are taken from the folder of the test file. */
  double frequency_hz;        /**< 0: that of the setup. */
  cavum_decay_options options;
} cavum_coldtest_trace_entry;

/** Temperature and gradient of a prediction. */
typedef struct cavum_coldtest_prediction_entry {
  double temperature_k, e_acc_v_per_m;
} cavum_coldtest_prediction_entry;

/** A test file, read and checked; figures from a result file are still to be read into setup. */
typedef struct cavum_coldtest_file {
  char *text; /**< Owned: the file as read, zero-terminated. */
  cavum_coldtest_setup setup;
  char result_path[CAVUM_PATH_SIZE];   /**< Result file of a solve, or "": figures are in setup. */
  int result_mode;                     /**< Mode of it, from 0. */
  char readings_path[CAVUM_PATH_SIZE]; /**< "": no readings (a plan). */
  int64_t monte_carlo_points; /**< Monte Carlo is run for tests of at most so many points. */
  int num_traces;
  cavum_coldtest_trace_entry traces[CAVUM_MAX_TRACES];
  bool fit_resistance;
  cavum_resistance_options resistance;
  cavum_resistance_field_options resistance_field; /**< num_gradients 0: not asked for. */
  bool fit_frequency;
  cavum_frequency_options frequency;
  char shared_calibration[64]; /**< Name of what tests that are compared have in common, or "". */
  char shared_shape[64];       /**< Likewise. */
  bool evaluate_emission;
  cavum_field_emission_options emission;
  cavum_wall_pressure wall_pressure; /**< Known with a result file. */
  cavum_wall_weighting wall;         /**< Known with a result file. */
  int num_predictions;
  cavum_coldtest_prediction_entry predictions[CAVUM_MAX_PREDICTIONS];
  bool has_trapped_flux;
  double ambient_field_t, trapped_fraction;
  double flux_sensitivity_ohm_per_t; /**< 0: the rule of cavum_trapped_flux_rule_ohm_per_t(). */
  int num_plans;
  cavum_plan_request plans[CAVUM_MAX_PLANS]; /**< frequency_hz 0: that of the setup. */
} cavum_coldtest_file;

/** Frees what a test file owns; NULL is accepted. */
CAVUM_API void cavum_coldtest_file_clear(cavum_coldtest_file *file);

/**
 * Reads a test file (YAML; the keys are listed in geometries-demo/coldtest/README.md). Every error
 * is one line `file:line:column: what is wrong, what was expected`.
 * @param[out] file   Release with cavum_coldtest_file_clear(); untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_INPUT  syntax, unknown or missing key, bad value.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_file_read(cavum_coldtest_file *file, const char *path,
                                                cavum_error *error);

/**
 * Like cavum_coldtest_file_read() for text in memory; name is for messages and relative paths.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 */
CAVUM_API cavum_status cavum_coldtest_file_read_text(cavum_coldtest_file *file, const char *text,
                                                     size_t length, const char *name,
                                                     cavum_error *error);

/**
 * Reads readings from CSV: one header line, UTF-8, either line ending, empty cells for what was not
 * read. Between columns are commas, or semicolons or tabs where the header has these alone or a
 * first line "sep=;" says so; numbers may then have decimal commas, all of a file. Columns, in any
 * order: forward_, reflected_, transmitted_, emitted_ and NAME_ of each extra port with W, mW, uW
 * or dBm; decay_energy_ or decay_amplitude_ with s, ms or us; frequency_ with Hz, kHz, MHz or GHz;
 * bath_temperature_ with K or mK; radiation_ with Sv_per_h, mSv_per_h or uSv_per_h; bath_pressure_
 * with mbar, Pa or kPa; note (kept as text); run (the name of the run that a row belongs to);
 * branch (over or under: stated for this row); use (yes or no, 1 or 0). Lines that start with # are
 * comments. Rows that say no, that cannot be read or whose numbers cannot be are set aside with
 * their reason, and so is a last row that is still being written.
 *
 * @param[out] readings  Release with cavum_coldtest_readings_clear(); untouched unless CAVUM_OK.
 * @param[in]  path      File name.
 * @param[in]  setup     Names the extra ports.
 * @param[out] error     May be NULL: `file:line: column N (header): ...`.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE   cannot be read.
 * @retval CAVUM_ERR_INPUT  empty, not UTF-8, unknown column, no unit, no row that can be used (the
 *                          message is the first reason).
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_read_readings(cavum_coldtest_readings *readings,
                                                    const char *path,
                                                    const cavum_coldtest_setup *setup,
                                                    cavum_error *error);

/**
 * Like cavum_coldtest_read_readings() for a table in memory, for readings that no file holds.
 *
 * @param[out] readings  Release with cavum_coldtest_readings_clear(); untouched unless CAVUM_OK.
 * @param[in]  text      CSV, shape [length]; borrowed for the call.
 * @param[in]  length    Bytes.
 * @param[in]  name      Stands for the file in messages and results; NULL: "readings".
 * @param[in]  setup     Names the extra ports.
 * @param[out] error     May be NULL.
 * @retval CAVUM_ERR_USAGE  no place, text or setup.
 * @retval CAVUM_ERR_INPUT  as above.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_read_readings_text(cavum_coldtest_readings *readings,
                                                         const char *text, size_t length,
                                                         const char *name,
                                                         const cavum_coldtest_setup *setup,
                                                         cavum_error *error);

/**
 * Reads a decay trace from CSV with the columns time_ (s, ms or us) and transmitted_ (W, mW, uW or
 * dBm); note is ignored. Errors as for cavum_coldtest_read_readings().
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 */
CAVUM_API cavum_status cavum_coldtest_read_trace(cavum_decay_trace *trace, const char *path,
                                                 cavum_error *error);

/**
 * Like cavum_coldtest_read_trace() for a table in memory.
 *
 * @param[out] trace   Release with cavum_decay_trace_clear(); untouched unless CAVUM_OK.
 * @param[in]  text    CSV, shape [length]; borrowed for the call.
 * @param[in]  length  Bytes.
 * @param[in]  name    Stands for the file in messages and results; NULL: "trace".
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_USAGE  no place or text.
 * @retval CAVUM_ERR_INPUT  as above.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_read_trace_text(cavum_decay_trace *trace, const char *text,
                                                      size_t length, const char *name,
                                                      cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
