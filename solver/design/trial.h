// SPDX-License-Identifier: GPL-3.0-or-later
/**
 * @file design/trial.h
 * Shapes near a cell: dimensions of its file with other values, solved one after the other with
 * derivatives.
 */
#ifndef CAVUM_DESIGN_TRIAL_H
#define CAVUM_DESIGN_TRIAL_H

#include "cavum/cell_key.h"
#include "cavum/geometry.h"
#include "cavum/solver.h"
#include "design/tune_step.h"

/** A cell and the dimensions that change. Zero-initialise. */
typedef struct cavum_trial {
  const cavum_cell *cell;  /**< Borrowed: full, checked. */
  const char *name;        /**< Borrowed: its file name, for messages; NULL: "text". */
  char *text;              /**< Owned: its text, or one that has its path. */
  bool text_of_path;       /**< The text has the path alone right, with its splines and circles. */
  double length_of_text_m; /**< Likewise: the accelerating length that it gives. */
  cavum_solver *solver;    /**< Owned. */
  int num_dimensions;
  cavum_cell_key_info dimensions[CAVUM_TUNE_MOST]; /**< As they are in the cell. */
} cavum_trial;

/**
 * Begins with a cell.
 * @param[out] trial    Zeroed; release with cavum_trial_clear(), also after a failure.
 * @param[in]  cell     Borrowed: full, checked.
 * @param[in]  options  Of each solve, with derivatives; NULL: defaults.
 * @param[out] error    May be NULL.
 * @retval CAVUM_ERR_INPUT  a mesh file: it has no dimensions.
 */
cavum_status cavum_trial_open(cavum_trial *trial, const cavum_cell *cell,
                              const cavum_solve_options *options, cavum_error *error);

/** Frees what a trial owns. */
void cavum_trial_clear(cavum_trial *trial);

/**
 * Adds a dimension by its dotted key; there is room for CAVUM_TUNE_MOST.
 * @retval CAVUM_ERR_INPUT  no such number.
 * @retval CAVUM_ERR_USAGE  one that is there already, also as one of a half.
 */
cavum_status cavum_trial_add(cavum_trial *trial, const char *key, cavum_error *error);

/**
 * Solves the cell with other values of its dimensions.
 * @param[out] result  Owned by the caller; as of cavum_solver_solve().
 * @param[out] text    Owned by the caller: the file of that cell. Set where it could be made.
 * @param[in]  values  Shape [num_dimensions], in the units of the keys; each is written with as
 * many digits as it takes.
 */
cavum_status cavum_trial_solve(cavum_result **result, char **text, cavum_trial *trial,
                               const double *values, cavum_error *error);

/**
 * The cell with other values of its dimensions, without a text where that is not needed.
 * @param[out] made    Untouched unless CAVUM_OK; borrows from the trial unless it is owned.
 * @param[out] owned   Whether the caller clears it.
 * @param[in]  values  Shape [num_dimensions], in the units of the keys.
 */
cavum_status cavum_trial_make_cell(cavum_cell *made, bool *owned, const cavum_trial *trial,
                                   const double *values, cavum_error *error);

/** Whether a dimension is of one half while the other half has the same value. */
bool cavum_trial_is_half_of_equal(const cavum_trial *trial, int dimension);

/** Derivative of a figure by a dimension, per unit of its key, with why there is none; as below. */
cavum_derivative cavum_trial_find_derivative(const cavum_result *result, int mode,
                                             cavum_figure_id figure,
                                             const cavum_cell_key_info *dimension);

/**
 * Derivative of a figure by a dimension, per unit of its key. That of one half of a cell whose
 * halves agree is half of that of both, which is so where they are mirror images.
 * @param[out] value  Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_INPUT  there is none; the message says why.
 */
cavum_status cavum_trial_derivative(double *value, const cavum_result *result, int mode,
                                    cavum_figure_id figure, const cavum_cell_key_info *dimension,
                                    cavum_error *error);

/**
 * Derivative of a figure of the shape by a dimension, per unit of its key. By one half of a cell
 * whose halves agree it is half of that of both for lengths, volume and area; what is the smaller
 * of both halves has none.
 * @param[out] value  Untouched unless CAVUM_OK.
 * @retval CAVUM_ERR_INPUT  there is none; the message says why.
 */
cavum_status cavum_trial_shape_derivative(double *value, const cavum_geometry *geometry,
                                          cavum_geometry_id figure,
                                          const cavum_cell_key_info *dimension, cavum_error *error);

#endif
