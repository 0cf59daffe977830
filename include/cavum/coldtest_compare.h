// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest_compare.h
 * Several cold tests of one cell, before and after a bake, a doping or an etch: what changed.
 *
 * Threads: any number of threads may call these functions at once; an object that one of them
 * changes or frees is used by no other meanwhile.
 */
#ifndef CAVUM_COLDTEST_COMPARE_H
#define CAVUM_COLDTEST_COMPARE_H

#include "cavum/coldtest_report.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What is compared: name, key, unit, text. */
#define CAVUM_CHANGE_TABLE(X)                                                              \
  X(RESIDUAL, "residual_ohm", "ohm", "residual resistance of the fit of R_s(T)")           \
  X(BCS, "bcs_ohm", "ohm", "BCS part of that fit at 2 K")                                  \
  X(LOW_FIELD, "low_field_resistance_ohm", "ohm", "R_s without field, R_0 of R_0 + a E^2") \
  X(SLOPE, "slope_ohm_m2_per_V2", "ohm m2 V-2", "slope a of R_s = R_0 + a E_acc^2")        \
  X(ONSET, "onset_gradient_V_per_m", "V m-1", "onset of field emission, E_acc")            \
  X(HIGHEST, "highest_gradient_V_per_m", "V m-1", "highest gradient that was reached")

/** Names of what is compared. */
typedef enum cavum_change_id {
#define CAVUM_CHANGE_ENUM(name, key, unit, text) CAVUM_CHANGE_##name,
  CAVUM_CHANGE_TABLE(CAVUM_CHANGE_ENUM)
#undef CAVUM_CHANGE_ENUM
      CAVUM_NUM_CHANGES
} cavum_change_id;

/** What a quantity is; static texts. */
typedef struct cavum_change_info {
  const char *key, *unit, *text;
} cavum_change_info;

/** Description of what is compared. */
CAVUM_API cavum_change_info cavum_change_describe(cavum_change_id id);

/** One quantity of a test against the first one. */
typedef struct cavum_coldtest_change {
  cavum_estimate first, later; /**< NAN: the test has none. */
  cavum_estimate change;       /**< later - first; what both share has cancelled. NAN: not both. */
  bool significant;            /**< |change| is above k of its uncertainties. */
} cavum_coldtest_change;

/** Q0 of a reading over that of the first test at the same gradient. */
typedef struct cavum_coldtest_ratio {
  int64_t point; /**< Of the later test, from 0. */
  cavum_estimate e_acc_v_per_m;
  cavum_estimate q0_ratio;
} cavum_coldtest_ratio;

/** Bytes that hold all cautions about a pair of tests, with the final zero. */
enum { CAVUM_COLDTEST_CAUTION_SIZE = 512 };

/** A later test against the first. */
typedef struct cavum_coldtest_pair {
  bool shares_calibration, shares_shape;
  cavum_coldtest_change changes[CAVUM_NUM_CHANGES];
  int64_t num_ratios;
  cavum_coldtest_ratio *ratios;      /**< Owned, shape [num_ratios], by point. */
  double first_bath_k, later_bath_k; /**< Of the readings that were compared; NAN: not read. */
  /** Other cells and other baths, in one line, or "". */
  char caution[CAVUM_COLDTEST_CAUTION_SIZE];
} cavum_coldtest_pair;

/** Several tests. Members are appended only. */
typedef struct cavum_coldtest_comparison {
  size_t struct_size; /**< Set by cavum_coldtest_compare(). */
  int num_pairs;
  cavum_coldtest_pair *pairs; /**< Owned, shape [num_pairs]. */
  double coverage_factor;     /**< k of `significant`. */
} cavum_coldtest_comparison;

/** What cavum_coldtest_compare() calls; struct_size is sizeof(cavum_coldtest_comparison). */
CAVUM_API cavum_status cavum_coldtest_compare_sized(cavum_coldtest_comparison *comparison,
                                                    size_t struct_size, int count,
                                                    const cavum_coldtest_report *const *reports,
                                                    cavum_error *error);

/**
 * Compares tests with the first of them.
 *
 * Errors that two tests share cancel in ratios and differences. They share what both files name
 * alike, and nothing else: `shared: {calibration: NAME}` means meters, cables, input line, zeros,
 * time base and frequency, `shared: {shape: NAME}` R/Q, L_acc, G, E_pk/E_acc and B_pk/E_acc. Q_t
 * and Q_e are calibrated anew by each test; the phases of leak and circulator, the loop phase and
 * an open branch are its own.
 *
 * Ratios are made at one bath (that of most readings): ln Q0 of the first test is interpolated
 * between the two readings beside each gradient. R_0 and the slope come from a straight line of R_s
 * over E_acc^2 through the readings of that bath below the onset (without one: all). All are
 * propagated with the covariances through what each test shares within itself [JCGM100] 5.2.
 *
 * @param[out] comparison  Release with cavum_coldtest_comparison_clear(); untouched unless
 *                         CAVUM_OK.
 * @param[in]  count       Two or more.
 * @param[in]  reports     Evaluated tests, not plans; borrowed. Shape [count].
 * @param[out] error       May be NULL.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_INPUT   fewer than two, a plan, or tests that name one calibration or shape but
 *                           state different numbers of it.
 * @retval CAVUM_ERR_MEMORY
 */
static inline cavum_status cavum_coldtest_compare(cavum_coldtest_comparison *comparison, int count,
                                                  const cavum_coldtest_report *const *reports,
                                                  cavum_error *error) {
  return cavum_coldtest_compare_sized(comparison, sizeof(cavum_coldtest_comparison), count, reports,
                                      error);
}

/** Frees what it owns; NULL is accepted. */
CAVUM_API void cavum_coldtest_comparison_clear(cavum_coldtest_comparison *comparison);

/** Name of a test in outputs: its number with its title, or "test N". Nothing with a NULL. */
CAVUM_API void cavum_comparison_name(char name[64], const cavum_coldtest_report *report,
                                     int number);

/**
 * The comparison as JSON text; release with free().
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_comparison_to_json(char **text,
                                                      const cavum_coldtest_comparison *comparison,
                                                      int count,
                                                      const cavum_coldtest_report *const *reports,
                                                      cavum_error *error);

/**
 * The ratios as CSV text, a row for each reading of a later test; release with free().
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_comparison_to_csv(char **text,
                                                     const cavum_coldtest_comparison *comparison,
                                                     cavum_error *error);

/**
 * The comparison as an HDF5 file: /tests/N/name, /against_first/N/caution,
 * /against_first/N/changes, /against_first/N/ratios, N from 2.
 * @retval CAVUM_ERR_USAGE  NULL for what must be given.
 * @retval CAVUM_ERR_FILE, CAVUM_ERR_LIBRARY, CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_store_write_comparison(const char *path,
                                                    const cavum_coldtest_comparison *comparison,
                                                    int count,
                                                    const cavum_coldtest_report *const *reports,
                                                    cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
