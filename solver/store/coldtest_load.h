// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_load.h
 * Reads what pictures and reports need of a cold-test file, and tells the kinds of files apart.
 */
#ifndef CAVUM_STORE_COLDTEST_LOAD_H
#define CAVUM_STORE_COLDTEST_LOAD_H

#include <stdbool.h>
#include <stdint.h>

#include "base/base.h"
#include "cavum/coldtest_report.h"
#include "cavum/store.h"

/** Results of the points of a test, with standard uncertainties; each shape [num_points]. */
typedef enum cavum_stored_coldtest_column {
  CAVUM_STORED_GRADIENT,
  CAVUM_STORED_GRADIENT_U,
  CAVUM_STORED_Q0,
  CAVUM_STORED_Q0_U,
  CAVUM_STORED_RESISTANCE,
  CAVUM_STORED_RESISTANCE_U,
  CAVUM_STORED_WALL_POWER,
  CAVUM_STORED_WALL_POWER_U,
  CAVUM_STORED_COUPLING,
  CAVUM_STORED_COUPLING_U,
  CAVUM_STORED_Q_LOADED,
  CAVUM_STORED_Q_LOADED_U,
  CAVUM_STORED_PEAK_E,
  CAVUM_STORED_PEAK_E_U,
  CAVUM_STORED_PEAK_B,
  CAVUM_STORED_PEAK_B_U,
  CAVUM_STORED_TEMPERATURE,
  CAVUM_STORED_RADIATION,
  CAVUM_STORED_PRESSURE,
  CAVUM_STORED_FORWARD,
  CAVUM_STORED_BATH_HEAT,
  CAVUM_STORED_FREQUENCY,
  CAVUM_STORED_BRANCH,
  CAVUM_STORED_BY_DECAY,
  CAVUM_STORED_FLAGS,
  CAVUM_STORED_RUN,
  CAVUM_NUM_STORED_COLUMNS
} cavum_stored_coldtest_column;

/** Results that have a budget. */
enum { CAVUM_STORED_BUDGET_GRADIENT, CAVUM_STORED_BUDGET_Q0, CAVUM_NUM_STORED_BUDGETS };

/** The fit R_s(T) = amplitude exp(-gap / T) / T + residual. */
typedef struct cavum_stored_fit {
  bool present;
  double amplitude_ohm_k, gap_k, residual_ohm;
  double gradient_v_per_m, gradient_tolerance; /**< Readings that were fitted; gradient 0: all. */
  double chi_squared, degrees_of_freedom;
  double covariance[9]; /**< Of ln R_BCS at a reference, gap in K, residual in ohm. */
  char caution[512];
} cavum_stored_fit;

/** Numbers with uncertainties; owned, shape [the count beside them]; NULL: not there. */
typedef struct cavum_stored_column {
  double *value, *uncertainty;
} cavum_stored_column;

/** A recorded decay with its fits. */
typedef struct cavum_stored_trace {
  char *file;
  int num_samples, num_windows;
  double *time_s, *residual; /**< ln P less the exponential; shape [num_samples]. */
  double start_w;            /**< The exponential at time_s[0], at the pickup port; 0: not there. */
  double decay_time_s, decay_time_uncertainty_s, curvature;
  double *window_time_s; /**< Shape [num_windows]. */
  cavum_stored_column q_loaded, q0, gradient_v_per_m;
} cavum_stored_trace;

/** A stated limit. */
typedef struct cavum_stored_limit {
  char *name, *source, *quantity; /**< The quantity is a key, such as "wall_power_W". */
  double value;
} cavum_stored_limit;

/** Predictions of a fit; shape [count]. */
typedef struct cavum_stored_predictions {
  int count;
  cavum_stored_column temperature_k, gradient_v_per_m, resistance_ohm, q0, wall_power_w;
  char **caution;
} cavum_stored_predictions;

/** By what a planned reading would be evaluated. */
enum { CAVUM_STORED_BY_DECAY_TIME, CAVUM_STORED_BY_PICKUP, CAVUM_NUM_STORED_WAYS };

/** Uncertainty to expect of a planned reading; NAN: it would not give a result. */
typedef struct cavum_stored_expected {
  double q0_relative, gradient_relative;
  double q0_share, gradient_share;       /**< Of the variance, by the input that dominates. */
  const char *q0_input, *gradient_input; /**< That input in words, static; "": none. */
} cavum_stored_expected;

/** A plan. What is not there is NAN. */
typedef struct cavum_stored_plan {
  double gradient_v_per_m, q0, q_external, q_pickup;
  double forward_w, wall_power_w, coupling, q_loaded, decay_time_s, bandwidth_hz;
  double forward_meter_w, reflected_meter_w, transmitted_meter_w, emitted_meter_w;
  cavum_stored_expected expected[CAVUM_NUM_STORED_WAYS];
  double *limit_share; /**< Owned, shape [num_limits] of the test; NULL: no limits. */
} cavum_stored_plan;

/** Parts of R_s that are followed against field: mean over the wall, and at a place of it. */
enum {
  CAVUM_STORED_BCS,
  CAVUM_STORED_RESIDUAL,
  CAVUM_STORED_LOCAL_BCS,
  CAVUM_STORED_LOCAL_RESIDUAL,
  CAVUM_NUM_STORED_PARTS
};

/** R_s at several gradients. */
typedef struct cavum_stored_field {
  int num_points, num_terms; /**< 0: not there. Terms: those of the polynomials. */
  double reference_k;
  cavum_stored_column gradient_v_per_m, b_peak_t;         /**< Shape [num_points]. */
  cavum_stored_column part[CAVUM_NUM_STORED_PARTS];       /**< Shape [num_points]. */
  cavum_stored_column polynomial[CAVUM_NUM_STORED_PARTS]; /**< Of (B / 0.1 T)^n, [num_terms]. */
} cavum_stored_field;

/** Frequency against field and pressure. What is not there is NAN. */
typedef struct cavum_stored_frequency {
  bool present;
  double frequency_hz, mean_pressure_pa, scatter_hz;
  double lorentz, lorentz_uncertainty;   /**< Hz/(V/m)^2. */
  double pressure, pressure_uncertainty; /**< Hz/Pa. */
  double expected_lorentz, expected_pressure;
  double highest_v_per_m; /**< Readings above it were left out; 0: none. */
} cavum_stored_frequency;

/** Field emission. What is not there is NAN. */
typedef struct cavum_stored_emission {
  bool present;
  int num_points;             /**< Of the columns below: that of the test. */
  double background_sv_per_h; /**< Dose rate without emission. */
  double background_uncertainty_sv_per_h;
  double onset_v_per_m, onset_uncertainty_v_per_m; /**< E_acc. */
  double onset_sv_per_h;                           /**< Emission there. */
  double reference_v_per_m, level_sv_per_h, slope_v_per_m;
  double slope_uncertainty_v_per_m;
  double enhancement, enhancement_uncertainty; /**< beta_FN by radiation. */
  double power_enhancement, power_enhancement_uncertainty;
  double power_reference_v_per_m, power_level_a, power_slope_v_per_m;
  double work_function_ev, strongest_point; /**< Point from 1. */
  cavum_stored_column excess_sv_per_h, power_w;
  char *caution; /**< NULL or a line. */
} cavum_stored_emission;

/** Runs of a test; shape [count]. */
typedef struct cavum_stored_runs {
  int count;   /**< 0: readings name none. */
  char **name; /**< By number from 1: name[0] is that of run 1. */
  double *readings, *lowest_v_per_m, *highest_v_per_m, *ratio_v_per_m;
  cavum_stored_column q0_ratio; /**< Q0 over that of the first run at ratio_v_per_m, or NAN. */
  cavum_stored_column fit[CAVUM_NUM_RUN_QUANTITIES]; /**< Of each run alone; NAN: it has none. */
  char **fit_caution;                                /**< NULL: no fits. */
} cavum_stored_runs;

/** Intervals of a Monte Carlo propagation; shape [count]. */
typedef struct cavum_stored_intervals {
  int count; /**< Number of points, or 0. */
  double *q0_low, *q0_high, *gradient_low, *gradient_high;
} cavum_stored_intervals;

/** A cold test as its file holds it. All owned; columns that are missing are NULL. */
typedef struct cavum_stored_coldtest {
  char *set_aside, *remarks; /**< A line each; "": none. */
  char *title, *ended, *test_text, *test_sha256, *version, *geometry_from;
  char *readings_text, *readings_sha256; /**< "": not in the file. */
  double r_over_q_linac_ohm, accelerating_length_m, geometry_factor_ohm; /**< 0: not stated. */
  double q_external, q_pickup;                                           /**< 0: not there. */
  double q_external_uncertainty, q_pickup_uncertainty;                   /**< 0: not there. */
  double coverage;
  int num_points; /**< 0: a plan alone. */
  double *column[CAVUM_NUM_STORED_COLUMNS];
  char **notes;                             /**< Shape [num_points]; NULL: no reading has one. */
  int num_inputs;                           /**< Of the budgets; 0: none. */
  char **input_texts;                       /**< Shape [num_inputs]. */
  double *budget[CAVUM_NUM_STORED_BUDGETS]; /**< Shape [num_points, num_inputs], or NULL. */
  cavum_stored_fit fit;
  double static_heat_w;                              /**< 0: not stated. */
  double epk_over_eacc, bpk_over_eacc_t_per_v_per_m; /**< 0: not stated. */
  int num_limits, num_traces;
  cavum_stored_limit *limits; /**< Shape [num_limits]. */
  cavum_stored_trace *traces; /**< Shape [num_traces]. */
  cavum_stored_predictions predictions;
  cavum_stored_field field;
  cavum_stored_frequency frequency;
  cavum_stored_emission emission;
  cavum_stored_intervals intervals;
  cavum_stored_runs runs;
  int num_plans;
  cavum_stored_plan *plans; /**< Shape [num_plans]. */
} cavum_stored_coldtest;

/**
 * Reads a cold-test file.
 * @param[out] test   Release with cavum_stored_coldtest_clear(), also after a failure.
 * @param[in]  path   File of `cavum coldtest -o`.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no such file of ours, neither readings nor plans, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_stored_coldtest_read(cavum_stored_coldtest *test, const char *path,
                                                      cavum_error *error);

/**
 * The same of a report that is in memory, through a file in memory: pictures of both are one.
 * @param[out] test    As above.
 * @param[in]  report  With readings or plans.
 * @param[out] error   May be NULL.
 * @retval CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
CAVUM_BETWEEN cavum_status cavum_stored_coldtest_take(cavum_stored_coldtest *test,
                                                      const cavum_coldtest_report *report,
                                                      cavum_error *error);

/** Frees what it owns; NULL is accepted. */
CAVUM_BETWEEN void cavum_stored_coldtest_clear(cavum_stored_coldtest *test);

/**
 * Reads one text of a file of ours, for reports.
 * @param[out] text    New memory, release with free(); "" when the file has none.
 * @param[in]  path    File name.
 * @param[in]  object  Path in the file, for example "/input/study_file".
 * @param[out] error   May be NULL.
 */
CAVUM_BETWEEN cavum_status cavum_stored_read_text(char **text, const char *path, const char *object,
                                                  cavum_error *error);

#endif
