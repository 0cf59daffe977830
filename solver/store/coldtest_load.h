// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/coldtest_load.h
 * Reads what pictures and reports need of a cold-test file, and tells the kinds of files apart.
 */
#ifndef CAVUM_STORE_COLDTEST_LOAD_H
#define CAVUM_STORE_COLDTEST_LOAD_H

#include <stdbool.h>
#include <stdint.h>

#include "cavum/status.h"

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
  CAVUM_STORED_BRANCH,
  CAVUM_STORED_BY_DECAY,
  CAVUM_STORED_FLAGS,
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

/** A cold test as its file holds it. All owned; columns that are missing are NULL. */
typedef struct cavum_stored_coldtest {
  char *set_aside, *remarks; /**< A line each; "": none. */
  char *title, *ended, *test_text, *test_sha256, *version, *geometry_from;
  char *readings_text, *readings_sha256; /**< "": not in the file. */
  double r_over_q_linac_ohm, accelerating_length_m, geometry_factor_ohm; /**< 0: not stated. */
  double q_external, q_pickup;                                           /**< 0: not there. */
  double coverage;
  int num_points;
  double *column[CAVUM_NUM_STORED_COLUMNS];
  char **notes;                             /**< Shape [num_points]; NULL: no reading has one. */
  int num_inputs;                           /**< Of the budgets; 0: none. */
  char **input_texts;                       /**< Shape [num_inputs]. */
  double *budget[CAVUM_NUM_STORED_BUDGETS]; /**< Shape [num_points, num_inputs], or NULL. */
  cavum_stored_fit fit;
} cavum_stored_coldtest;

/**
 * Reads a cold-test file.
 * @param[out] test   Release with cavum_stored_coldtest_clear(), also after a failure.
 * @param[in]  path   File of `cavum coldtest -o`.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  no such file of ours, a plan without readings, or damaged.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_stored_coldtest_read(cavum_stored_coldtest *test, const char *path,
                                        cavum_error *error);

/** Frees what it owns; NULL is accepted. */
void cavum_stored_coldtest_clear(cavum_stored_coldtest *test);

/** What kind of file of ours this is. */
typedef enum cavum_stored_kind {
  CAVUM_STORED_RESULT,
  CAVUM_STORED_COLDTEST,
  CAVUM_STORED_SCAN
} cavum_stored_kind;

/**
 * Finds the kind of a file.
 * @param[out] kind   Untouched unless CAVUM_OK.
 * @param[in]  path   File name.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_FILE   cannot be opened or is no HDF5 file.
 * @retval CAVUM_ERR_INPUT  none of ours.
 */
cavum_status cavum_stored_find_kind(cavum_stored_kind *kind, const char *path, cavum_error *error);

/**
 * Reads one text of a file of ours, for reports.
 * @param[out] text    New memory, release with free(); "" when the file has none.
 * @param[in]  path    File name.
 * @param[in]  object  Path in the file, for example "/input/study_file".
 * @param[out] error   May be NULL.
 */
cavum_status cavum_stored_read_text(char **text, const char *path, const char *object,
                                    cavum_error *error);

#endif
