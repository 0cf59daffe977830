// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file coldtest/resistance.h
 * The fit of surface resistance against temperature, on plain arrays.
 */
#ifndef CAVUM_COLDTEST_RESISTANCE_H
#define CAVUM_COLDTEST_RESISTANCE_H

#include "base/base.h"
#include "cavum/coldtest_series.h"

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
  const double *shared_ohm;         /**< Their parts, shape [count, num_shared]. */
} cavum_resistance_series;

/** Fits a series; see cavum_resistance_make_fit(). */
cavum_status cavum_resistance_fit_series(cavum_resistance_fit *fit,
                                         const cavum_resistance_series *series, double fixed_gap_k,
                                         cavum_error *error);

#endif
