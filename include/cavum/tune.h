// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file tune.h
 * One dimension of a cell so that a mode has a given frequency; any dimensions so that it has any
 * figures.
 *
 * Threads: as of solver.h.
 */
#ifndef CAVUM_TUNE_H
#define CAVUM_TUNE_H

#include "cavum/cell_key.h"
#include "cavum/geometry.h"
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

/** A figure and what it is to be. */
typedef struct cavum_tune_aim {
  cavum_figure_id figure;
  double value; /**< In the SI unit of its table row. */
} cavum_tune_aim;

/** A figure of the shape and what it is to be. */
typedef struct cavum_tune_shape_aim {
  cavum_geometry_id figure;
  double value; /**< In the SI unit of its table row. */
} cavum_tune_shape_aim;

/** A dimension that may change. */
typedef struct cavum_tune_dimension {
  const char *key; /**< Dotted key, as for cavum_cell_set(); borrowed. */
  double low,
      high; /**< In the unit of the key; 0 and 0: from half to twice its value, and for one below a
               tenth of the largest length here from that much below to as much above. */
} cavum_tune_dimension;

/** Most figures, and most dimensions, of one tuning. */
enum { CAVUM_TUNE_MOST_FIGURES = 16, CAVUM_TUNE_MOST_DIMENSIONS = 16 };

/** Figures, and the dimensions that are to give them. Members are appended only. */
typedef struct cavum_tune_plan {
  size_t struct_size; /**< Set by cavum_tune_plan_default(). */
  int mode;           /**< Whose figures, from 0 by rising frequency. */
  int num_aims;
  const cavum_tune_aim *aims;             /**< Borrowed, shape [num_aims]. */
  int num_dimensions;                     /**< At least as many as aims of both kinds. */
  const cavum_tune_dimension *dimensions; /**< Borrowed, shape [num_dimensions]. */
  int most_solves;                        /**< Solves before it is given up. Default 30. */
  const cavum_tune_shape_aim *shape_aims; /**< Borrowed, shape [num_shape_aims]: figures of the
                                             shape that are to be met as well, to 1e-9. */
  int num_shape_aims; /**< With num_aims at least 1, and at most CAVUM_TUNE_MOST_FIGURES. */
  const char *name;   /**< Borrowed: file name of the cell, for messages; NULL: "text". */
} cavum_tune_plan;

/** What cavum_tune_plan_default() calls; struct_size is sizeof(cavum_tune_plan). */
CAVUM_API void cavum_tune_plan_set_defaults(cavum_tune_plan *plan, size_t struct_size);

/** Defaults: mode 0; aims and dimensions are not stated. */
static inline cavum_tune_plan cavum_tune_plan_default(void) {
  cavum_tune_plan plan;
  cavum_tune_plan_set_defaults(&plan, sizeof plan);
  return plan;
}

/** Bytes that hold the names of arcs. */
enum { CAVUM_TUNE_ARCS_SIZE = 256 };

/** What a tuning came to. It is made by the library, and members are appended only. */
typedef struct cavum_tune_outcome {
  bool met;             /**< Every figure is what was asked for, to its uncertainty. */
  int num_solves;       /**< Solves with derivatives. */
  int num_halved;       /**< Steps that were halved, to a shape or to smaller misses. */
  cavum_result *before; /**< Owned: of the cell as given. */
  cavum_result *after;  /**< Owned: of the tuned cell, or of that with the least misses. */
  char *cell_text;    /**< Owned: file of the cell of `after`, the given one but for its numbers. */
  int num_dimensions; /**< Of the plan. */
  double *values_before;           /**< Owned, shape [num_dimensions], in the units of the keys. */
  double *values_after;            /**< Owned, shape [num_dimensions]. */
  char arcs[CAVUM_TUNE_ARCS_SIZE]; /**< "path[4] and path[5]": arcs that begin, end or have their
                                      centre where a dimension moves, so that they follow it; ""
                                      without one. */
} cavum_tune_outcome;

/** Frees an outcome and sets the pointer to NULL; NULL is accepted. */
CAVUM_API void cavum_tune_outcome_destroy(cavum_tune_outcome **outcome);

/**
 * Tunes dimensions until figures of a mode are what was asked for, each to its numerical
 * uncertainty.
 *
 * Newton steps with the exact derivatives of cavum_result_derivative() and cavum_geometry; from the
 * second on the values and slopes of two shapes tell the curvature along the way, so that one
 * dimension takes three solves. With more dimensions than figures the change is the smallest: the
 * least sum of squares of relative changes (of dimensions below a tenth of the largest one:
 * relative to that tenth). A step to a shape that cannot exist, or to larger misses, is halved.
 * Every shape that is tried has as few digits as its figures tell apart, and the text of the tuned
 * cell has these.
 *
 * @param[out] outcome  Owned by the caller (cavum_tune_outcome_destroy()). Also given with
 *                      CAVUM_ERR_NOT_CONVERGED, with `met` saying which of both it is; else
 *                      untouched unless CAVUM_OK.
 * @param[in]  cell     Read or filled in; it is not changed.
 * @param[in]  plan     What to tune.
 * @param[in]  options  Of each solve; NULL: defaults. Derivatives are switched on.
 * @param[out] error    May be NULL.
 * @retval CAVUM_OK
 * @retval CAVUM_ERR_NOT_CONVERGED  figures that are not reached within the bounds (the message has
 *                                  what came nearest), or met with a solve that did not reach the
 *                                  accuracy asked for.
 * @retval CAVUM_ERR_INPUT          a bad cell, no such dimension, bounds outside of what it may be,
 *                                  a figure that the mode does not have or that has no derivative.
 * @retval CAVUM_ERR_USAGE          no outcome, cell or plan, one that never saw its defaults,
 *                                  numbers that are none, fewer dimensions than figures, one that
 *                                  comes twice, a mode that the cell does not ask for.
 * @retval CAVUM_ERR_GEOMETRY       no contour of the cell as given.
 * @retval CAVUM_ERR_RANGE          a wall outside the range of its formula, or too much work.
 * @retval CAVUM_ERR_FILE           as cavum_solve(), and so the next six.
 * @retval CAVUM_ERR_MESH
 * @retval CAVUM_ERR_INCOMPLETE
 * @retval CAVUM_ERR_LIBRARY
 * @retval CAVUM_ERR_STOPPED
 * @retval CAVUM_ERR_INTERNAL
 * @retval CAVUM_ERR_MEMORY
 */
CAVUM_API cavum_status cavum_tune_figures(cavum_tune_outcome **outcome, const cavum_cell *cell,
                                          const cavum_tune_plan *plan,
                                          const cavum_solve_options *options, cavum_error *error);

#ifdef __cplusplus
}
#endif
#endif
