// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file optimum/rates.h
 * How the dimensions of a cell change with the variables of a goal, linked ones with them.
 */
#ifndef CAVUM_OPTIMUM_RATES_H
#define CAVUM_OPTIMUM_RATES_H

#include "optimum/goal.h"

/** Rates of dimensions. Zero-initialise. */
typedef struct cavum_optimum_rates {
  int num_dimensions;
  double (*by)[CAVUM_GOAL_MOST_VARIABLES]; /**< Owned, shape [num_dimensions]: in SI, over the whole
                                                range of each variable. */
  bool *moves;                             /**< Owned, shape [num_dimensions]: with any of them. */
} cavum_optimum_rates;

/** The dimension of both halves, of one of a half; NULL: it is none of a half. */
const char *cavum_optimum_key_of_both(const char *key);

/**
 * All inputs of a goal from its variables.
 * @param[out] values  Shape [inputs of the study], in units of the file.
 * @param[in]  place   Shape [num_variables]: 0 at the lower bound, 1 at the upper.
 */
void cavum_optimum_inputs(double *values, const cavum_goal *goal, const double *place);

/**
 * Rates of a list of dimensions, of a result or of a shape.
 * @param[out] rates    Release with cavum_optimum_rates_clear(), also after a failure.
 * @param[in]  of_cell  Whose dimensions they are.
 * @retval CAVUM_ERR_INPUT  an input that is none of the dimensions.
 * @retval CAVUM_ERR_MEMORY
 */
cavum_status cavum_optimum_rates_make(cavum_optimum_rates *rates, const cavum_goal *goal,
                                      int of_cell, const double *place,
                                      const cavum_dimension *dimensions, int num_dimensions,
                                      cavum_error *error);

/** Frees what rates own. */
void cavum_optimum_rates_clear(cavum_optimum_rates *rates);

#endif
