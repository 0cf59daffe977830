// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/resistance.h
 * The fit of surface resistance against temperature, on plain arrays.
 */
#ifndef CAVUM_COLDTEST_RESISTANCE_H
#define CAVUM_COLDTEST_RESISTANCE_H

#include "base/base.h"
#include "cavum/coldtest_series.h"
#include "coldtest/coldtest_private.h"

/** A series at one field; all borrowed. */
typedef struct cavum_resistance_series {
  int64_t count;
  const double *temperature_k;      /**< > 0, shape [count]. */
  const double *resistance_ohm;     /**< > 0, shape [count]. */
  const double *uncertainty_ohm;    /**< Of each reading alone, shape [count]. */
  double temperature_uncertainty_k; /**< Of each reading alone. */
  double temperature_common_k;      /**< Of the thermometer: all readings move alike. */
  bool weighted;                    /**< Every reading has an uncertainty of its own. */
  int num_shared;                   /**< Inputs that the readings share. */
  /** Puts their parts in the resistance of one reading into `parts`, shape [num_shared]. Of a
      million readings they would fill the memory, so they are asked for one by one. */
  void (*shared_ohm)(double *parts, const void *data, int64_t i);
  const void *shared_data; /**< For shared_ohm. */
} cavum_resistance_series;

/**
 * Fits a series; see cavum_resistance_make_fit().
 * @param[out] moves  What each shared input moves the parameters by, the thermometer last, shape
 *                    [num_shared + 1, CAVUM_NUM_RESISTANCE_PARAMETERS]; NULL: not wanted.
 */
cavum_status cavum_resistance_fit_series(cavum_resistance_fit *fit, double *moves,
                                         const cavum_resistance_series *series, double fixed_gap_k,
                                         cavum_error *error);

/** A fit at one gradient with what the inputs that all readings of a test share do to it. */
typedef struct cavum_resistance_shared {
  cavum_dual e_acc_v_per_m; /**< Mean of the readings; parts of the readings alone are in
                                 CAVUM_INPUT_NOISE_FORWARD. */
  /** By input, the thermometer last. */
  double moves[CAVUM_FIRST_LOCAL_INPUT + 1][CAVUM_NUM_RESISTANCE_PARAMETERS];
} cavum_resistance_shared;

/** As cavum_resistance_make_fit(); shared: NULL: not wanted. */
cavum_status cavum_resistance_fit_gradient(cavum_resistance_fit *fit,
                                           cavum_resistance_shared *shared,
                                           const cavum_coldtest *test,
                                           const cavum_resistance_options *options,
                                           cavum_error *error);

/** BCS term at a temperature and its derivatives after the parameters of a fit. */
double cavum_resistance_bcs_gradient(double out[CAVUM_NUM_RESISTANCE_PARAMETERS],
                                     const cavum_resistance_fit *fit, double temperature_k);

#endif
