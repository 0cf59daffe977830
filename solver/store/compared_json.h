// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file store/compared_json.h
 * Results side by side as JSON.
 */
#ifndef CAVUM_STORE_COMPARED_JSON_H
#define CAVUM_STORE_COMPARED_JSON_H

#include "cavum/solve.h"

/** What is compared. All is borrowed. */
typedef struct cavum_compared_results {
  int count;                          /**< Results. */
  const char *const *paths;           /**< Their files, shape [count]. */
  const cavum_result *const *results; /**< Shape [count]. */
  const int *modes;                   /**< Indices of modes, from 0, shape [count]. */
  int num_inputs;                     /**< Inputs that differ. */
  const char *const *input_names;     /**< Shape [num_inputs]. */
  const char *const *input_values;    /**< Texts, shape [num_inputs, count]. */
  /** Whether two figures differ by more than their uncertainties, and the uncertainty of the
   * difference, in SI. */
  bool (*differ)(const cavum_figure *a, const cavum_figure *b);
  double (*uncertainty)(const cavum_figure *a, const cavum_figure *b);
} cavum_compared_results;

/**
 * All figures that one of the results has, in the units of their keys, with the difference of each
 * result from the first.
 * @param[out] text   Released with free(); untouched unless CAVUM_OK.
 * @param[in]  all    What is compared.
 * @param[out] error  May be NULL.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_compared_json_write(char **text, const cavum_compared_results *all,
                                       cavum_error *error);

#endif
