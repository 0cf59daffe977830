// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tune.h
 * One dimension of a cell so that a mode has a given frequency.
 *
 * Threads: as of solver.h.
 */
#ifndef CAVUM_TUNE_H
#define CAVUM_TUNE_H

#include "cavum/cell_key.h"
#include "cavum/solver.h"

#ifdef __cplusplus
extern "C" {
#endif

/** What to tune. Members are appended only. */
typedef struct cavum_tune_request {
  size_t struct_size;  /**< Set by cavum_tune_request_default(). */
  const char *key;     /**< Dotted key of the dimension, as for cavum_cell_set(); borrowed. */
  double frequency_hz; /**< What the mode is to have, to the accuracy_frequency of the cell. */
  int mode;            /**< Which mode, from 0 by rising frequency. */
  double low, high; /**< Range of the dimension, in the unit of its key; 0 and 0: from half to twice
                         its value. */
} cavum_tune_request;

/** What cavum_tune_request_default() calls; struct_size is sizeof(cavum_tune_request). */
CAVUM_API void cavum_tune_request_set_defaults(cavum_tune_request *request, size_t struct_size);

/** Defaults: mode 0, range chosen; key and frequency are not stated. */
static inline cavum_tune_request cavum_tune_request_default(void) {
  cavum_tune_request request;
  cavum_tune_request_set_defaults(&request, sizeof request);
  return request;
}

/**
 * Tunes a dimension: secant steps that stay inside what is known to enclose the frequency, with a
 * full solve each.
 *
 * @param[out]    result   That of the tuned cell (cavum_result_destroy()); may be NULL. Untouched
 *                         unless the cell was tuned.
 * @param[in,out] cell     Its dimension is set; unchanged unless it was tuned.
 * @param[in,out] solver   Solves; what it remembers makes each but the first a warm solve.
 * @param[in]     request  What to tune.
 * @param[out]    error    May be NULL.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_NOT_CONVERGED  tuned, but the accuracy asked for was not reached; the best
 * result is given.
 * @retval CAVUM_ERR_RANGE          the frequency was not reached within the range, or a wall is
 * outside the range of its formula there.
 * @retval CAVUM_ERR_INPUT          a bad cell, no such dimension, or a range outside of what it may
 * be.
 * @retval CAVUM_ERR_USAGE          no cell, solver or request, one that never saw its defaults, a
 *                                  frequency or range that is none, or a mode that the cell does
 * not ask for.
 * @retval CAVUM_ERR_GEOMETRY       no shape was found in the range.
 * @retval CAVUM_ERR_FILE           a mesh file that cannot be read.
 * @retval CAVUM_ERR_MESH           as cavum_solver_solve(), and so the next four.
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_tune(cavum_result **result, cavum_cell *cell, cavum_solver *solver,
                                  const cavum_tune_request *request, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
