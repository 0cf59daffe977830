// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_report.h
 * All that one test file asks for, computed in one call, and its outputs.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_REPORT_H
#define CAVUM_COLDTEST_REPORT_H

#include "cavum/coldtest_file.h"
#include "cavum/solve.h"

#ifdef __cplusplus
extern "C" {
#endif

/** Series, traces and fits that may lack readings. */
enum { CAVUM_COLDTEST_WAITING_MOST = 6 };

/** What is fitted to each run: name, key, unit, text. */
#define CAVUM_RUN_QUANTITY_TABLE(X)                                                      \
  X(RESIDUAL, "residual_ohm", "ohm", "residual resistance of the run")                   \
  X(GAP, "gap_K", "K", "gap Delta / k of the run")                                       \
  X(AMPLITUDE, "amplitude_ohm_K", "ohm K", "A of A exp(-gap/T)/T + residual of the run") \
  X(BCS, "bcs_ohm_at_2_K", "ohm", "BCS term of the run at 2 K")                          \
  X(LORENTZ, "lorentz_Hz_m2_per_V2", "Hz m2 V-2",                                        \
    "Lorentz-force coefficient df/d(E_acc^2) of the run")                                \
  X(PRESSURE, "pressure_Hz_per_Pa", "Hz Pa-1", "df/dp of the run")                       \
  X(FREQUENCY, "frequency_Hz", "Hz", "frequency of the run without field, at its mean pressure")

/** Names of what is fitted to each run, CAVUM_RUN_RESIDUAL first. */
typedef enum cavum_run_quantity {
#define CAVUM_RUN_QUANTITY_ENUM(name, key, unit, text) CAVUM_RUN_##name,
  CAVUM_RUN_QUANTITY_TABLE(CAVUM_RUN_QUANTITY_ENUM)
#undef CAVUM_RUN_QUANTITY_ENUM
      CAVUM_NUM_RUN_QUANTITIES
} cavum_run_quantity;

/** What is fitted to a run; static texts. */
typedef struct cavum_run_quantity_info {
  const char *key, *unit; /**< Key as in JSON, HDF5 and CSV; SI unit. */
  const char *text;       /**< One line that says what it is. */
} cavum_run_quantity_info;

/** Description of what is fitted to a run; "unknown" for a number that has none. */
CAVUM_API cavum_run_quantity_info cavum_run_quantity_describe(cavum_run_quantity quantity);

/** The key of cavum_run_quantity_describe(), or ""; for programs that were built with it. */
CAVUM_API const char *cavum_run_quantity_key(cavum_run_quantity quantity);

/** The unit of cavum_run_quantity_describe(), or ""; for programs that were built with it. */
CAVUM_API const char *cavum_run_quantity_unit(cavum_run_quantity quantity);

/** The text of cavum_run_quantity_describe(), or ""; for programs that were built with it. */
CAVUM_API const char *cavum_run_quantity_text(cavum_run_quantity quantity);

/** Fits of one run alone. */
typedef struct cavum_run_fit {
  bool has_resistance;
  cavum_resistance_fit resistance; /**< As the test file asks for the whole test. */
  bool has_frequency;
  cavum_frequency_fit frequency;    /**< Likewise, without the comparison. */
  char caution[CAVUM_MESSAGE_SIZE]; /**< What a fit lacks, or is to be read with; "": nothing. */
} cavum_run_fit;

/** One number of the fits of a run; NAN: it has none, or `fit` is NULL. */
CAVUM_API cavum_estimate cavum_run_fit_get(const cavum_run_fit *fit, cavum_run_quantity quantity);

/** Results of a test file. */
typedef struct cavum_coldtest_report {
  cavum_coldtest_file file; /**< Owned copy. */
  cavum_coldtest *test;     /**< Owned; NULL for a plan. */
  char *readings_text;      /**< Owned: their file as it was read; NULL: a plan, or above 16 MB. */
  char readings_sha256[65]; /**< Of their file; "" for a plan. */
  int64_t num_monte_carlo;  /**< Number of points, or 0: not run. */
  cavum_coldtest_monte_carlo *monte_carlo; /**< Owned, shape [num_monte_carlo]; num_draws 0: the
                                                readings do not determine the point. */
  int num_analyses;
  cavum_decay_analysis *analyses; /**< Owned, shape [num_analyses], one a trace. */
  bool has_fit;
  cavum_resistance_fit fit;
  bool has_frequency;
  cavum_frequency_fit frequency; /**< Against field and bath pressure. */
  int num_run_fits;        /**< Number of runs where R_s(T) or the frequency is fitted, or 0. */
  cavum_run_fit *run_fits; /**< Owned, shape [num_run_fits], by number of the run. */
  bool has_emission;
  cavum_field_emission emission; /**< Owned. */
  bool has_field;
  cavum_resistance_field field; /**< R_s at several gradients. */
  int num_predictions;
  cavum_resistance_prediction predictions[CAVUM_MAX_PREDICTIONS];
  double flux_resistance_ohm; /**< NAN: not asked for. */
  double flux_sensitivity_ohm_per_t;
  int num_plans;
  cavum_plan plans[CAVUM_MAX_PLANS];
  int num_waiting; /**< Series that the file asks for and its readings do not give: of a test that
                        is being taken (setup.growing) so far, else remarks say so, too. */
  char waiting[CAVUM_COLDTEST_WAITING_MOST][CAVUM_MESSAGE_SIZE]; /**< A line each: why. */
} cavum_coldtest_report;

/** What is to be computed. Members are appended only. */
typedef struct cavum_coldtest_run_options {
  size_t struct_size;  /**< Set by cavum_coldtest_run_options_default(). */
  bool plan;           /**< The plan alone; else the readings. */
  bool no_monte_carlo; /**< Linear propagation only. */
} cavum_coldtest_run_options;

/** What cavum_coldtest_run_options_default() calls; struct_size is
 * sizeof(cavum_coldtest_run_options). */
CAVUM_API void cavum_coldtest_run_options_set_defaults(cavum_coldtest_run_options *options,
                                                       size_t struct_size);

/** Defaults: the readings, with Monte Carlo. */
static inline cavum_coldtest_run_options cavum_coldtest_run_options_default(void) {
  cavum_coldtest_run_options options;
  cavum_coldtest_run_options_set_defaults(&options, sizeof options);
  return options;
}

/**
 * Reads readings and traces of a test file and computes all that it asks for.
 * @param[out] report   New report (cavum_coldtest_report_destroy()); untouched unless CAVUM_OK.
 * @param[in]  file     Its setup holds the figures; copied.
 * @param[in]  options  NULL: everything.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given, options that never saw their defaults.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT, CAVUM_ERR_RANGE, CAVUM_ERR_NOT_CONVERGED (fit of the
 *         surface resistance), CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_coldtest_run(cavum_coldtest_report **report,
                                          const cavum_coldtest_file *file,
                                          const cavum_coldtest_run_options *options,
                                          cavum_error *error);

/** Who is told, and asked, while a test is evaluated. Members are appended only. */
typedef struct cavum_coldtest_watch {
  size_t struct_size;  /**< Set by cavum_coldtest_watch_default(). */
  cavum_log_hook *log; /**< What is about to be done, then all that the report says of its numbers:
                            remarks, rows set aside, flags with how many points have them, what
                            Monte Carlo did not settle, cautions of fits. NULL: nobody. */
  void *log_data;      /**< Handed on to it. */
  cavum_stop_question *stop; /**< Whether to stop; asked while rows are inverted and within Monte
                                  Carlo and between fits: at least every 50 ms but for the sorting
                                  of the draws of a point, 0.5 s for four million. NULL: nobody. */
  void *stop_data;           /**< Handed on to it. */
} cavum_coldtest_watch;

/** What cavum_coldtest_watch_default() calls; struct_size is sizeof(cavum_coldtest_watch). */
CAVUM_API void cavum_coldtest_watch_set_defaults(cavum_coldtest_watch *watch, size_t struct_size);

/** Nobody. */
static inline cavum_coldtest_watch cavum_coldtest_watch_default(void) {
  cavum_coldtest_watch watch;
  cavum_coldtest_watch_set_defaults(&watch, sizeof watch);
  return watch;
}

/**
 * Like cavum_coldtest_run() with somebody who is told and asked.
 * @param[out] report   As of cavum_coldtest_run().
 * @param[in]  file     Likewise.
 * @param[in]  options  Likewise.
 * @param[in]  watch    NULL: nobody.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_USAGE    also a watch that never saw its defaults.
 * @retval CAVUM_ERR_STOPPED  watch->stop said so.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT, CAVUM_ERR_RANGE, CAVUM_ERR_NOT_CONVERGED,
 *         CAVUM_ERR_MEMORY  as of cavum_coldtest_run()
 */
CAVUM_API cavum_status cavum_coldtest_run_watched(cavum_coldtest_report **report,
                                                  const cavum_coldtest_file *file,
                                                  const cavum_coldtest_run_options *options,
                                                  const cavum_coldtest_watch *watch,
                                                  cavum_error *error);

/** Frees a report and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_coldtest_report_destroy(cavum_coldtest_report **report);

/**
 * Reads the figures of a mode from the result file that a test file names into its setup. Their
 * numerical uncertainty bounds the error, so it is the half width of a rectangular distribution.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_INPUT  as cavum_store_read_mode(), or a figure is missing.
 */
CAVUM_API cavum_status cavum_store_read_coldtest_geometry(cavum_coldtest_file *file,
                                                          cavum_error *error);

/**
 * Puts the figures of a solved mode into a setup: R/Q, accelerating length, G, E_pk/E_acc and
 * B_pk/E_acc with their numerical uncertainties as half widths of rectangular distributions, what
 * is missing as not given, and the frequency where the setup states none.
 *
 * @param[in,out] setup     From cavum_coldtest_setup_default(); its other members stay. Untouched
 *                          unless CAVUM_OK.
 * @param[out]    wall      How the field is spread over the wall, for
 * cavum_resistance_make_field(); may be NULL. Not known without options->profiles or without a
 * wall.
 * @param[out]    pressure  Radiation pressure, for cavum_frequency_make_fit(); likewise.
 * @param[in]     result    From a solve or a file.
 * @param[in]     mode      Which mode, counted from 0.
 * @param[out]    error     May be NULL.
 * @retval CAVUM_ERR_USAGE  no setup or result, or no such mode.
 * @retval CAVUM_ERR_INPUT  a mode without R/Q or accelerating length, or a wall without field.
 */
CAVUM_API cavum_status cavum_coldtest_take_mode(cavum_coldtest_setup *setup,
                                                cavum_wall_weighting *wall,
                                                cavum_wall_pressure *pressure,
                                                const cavum_result *result, int mode,
                                                cavum_error *error);

/**
 * A report as JSON text; release with cavum_free(). Keys are listed in
 * geometries-demo/coldtest/README.md.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT   more than 100,000 points.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_coldtest_to_json(char **text,
                                                    const cavum_coldtest_report *report,
                                                    cavum_error *error);

/**
 * The points as CSV text, a header and a row each; release with cavum_free().
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT  a plan, which has no points.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_coldtest_to_csv(char **text, const cavum_coldtest_report *report,
                                                   cavum_error *error);

/**
 * A report as an HDF5 file: /input (test file and readings, each with its SHA-256, versions),
 * /points (a dataset for every result and its uncertainty), /budgets, /calibration, /monte_carlo,
 * /limits, /traces/1, 2, ..., /surface_resistance, /surface_resistance_against_field, /frequency,
 * /plans. Budgets are left out above 100,000 points, notes above 10,000.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_coldtest(const char *path,
                                                  const cavum_coldtest_report *report,
                                                  cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
