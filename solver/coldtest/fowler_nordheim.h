// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/fowler_nordheim.h
 * A signal that is a background and a current of field emission, fitted against the gradient.
 */
#ifndef CAVUM_COLDTEST_FOWLER_NORDHEIM_H
#define CAVUM_COLDTEST_FOWLER_NORDHEIM_H

#include "cavum/coldtest_emission.h"
#include "coldtest/dual.h"

enum {
  /** Shared errors beside the inputs of the budget. */
  CAVUM_EMISSION_EXTRA = CAVUM_NUM_EMISSION_TERMS,
  CAVUM_EMISSION_LEVEL = 0,  /**< Parameters in covariances: ln of the level at E_r, */
  CAVUM_EMISSION_SLOPE,      /**< the slope over E_r, */
  CAVUM_EMISSION_BACKGROUND, /**< the background. */
  CAVUM_NUM_EMISSION_PARAMETERS
};

/** One reading. */
typedef struct cavum_emission_row {
  cavum_dual e_acc, signal;           /**< With the parts of one reading alone and shared ones. */
  double extra[CAVUM_EMISSION_EXTRA]; /**< More shared parts of the signal. */
  double own;                         /**< More uncertainty of this signal alone. */
  bool exact;                         /**< The relative uncertainty is not for this one. */
} cavum_emission_row;

/** Readings; borrowed. */
typedef struct cavum_emission_rows {
  int64_t count;
  cavum_emission_row *row;
  double relative;      /**< Uncertainty of each signal alone, of its fitted value. */
  double gain;          /**< Relative, of all signals and the background alike. */
  bool stated;          /**< Their uncertainties are; else the relative scatter is alike in all. */
  bool with_background; /**< Fitted; else there is none. */
  const char *what;     /**< Starts messages. */
} cavum_emission_rows;

/** A fit with its covariance. */
typedef struct cavum_emission_solution {
  cavum_emission_fit fit; /**< Without enhancement. */
  double background;
  double covariance[CAVUM_NUM_EMISSION_PARAMETERS][CAVUM_NUM_EMISSION_PARAMETERS];
} cavum_emission_solution;

/**
 * Fits background + level f(E) by weighted least squares: linear in two of the parameters, so that
 * only the slope is searched for [GolubPereyra1973].
 * @param[out] solution  fit.found is false where no emission is seen; the background is then the
 *                       weighted mean. Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_INPUT, CAVUM_ERR_MEMORY
 */
cavum_status cavum_emission_solve(cavum_emission_solution *solution,
                                  const cavum_emission_rows *rows, cavum_error *error);

/** True when the gradient of a point is among those to be used. */
bool cavum_emission_in_range(const cavum_coldtest *test,
                             const cavum_field_emission_options *options, int64_t point);

/** beta_FN of a fit. */
void cavum_emission_set_enhancement(cavum_emission_fit *fit, const cavum_coldtest *test,
                                    cavum_estimate work_function_ev);

/** sqrt(g' C g). */
double cavum_emission_deviation(const cavum_emission_solution *solution,
                                const double g[CAVUM_NUM_EMISSION_PARAMETERS]);

#endif
